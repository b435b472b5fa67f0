#include "daemon/control/facts.hpp"

#include <cmath>

#include <fmt/core.h>

#include "config/measurands.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Quality;
using config::Measurand;
using control::Condition;
using control::Facts;
using control::Truth;

void set_sealed(const ControlView& view, Facts& facts) {
  const bool sealed = view.regime.regime == alarms::Regime::sealed_low_oxygen;
  if (sealed && view.regime.by.empty()) // the file alone has seen nobody leave
    facts.set(Condition::sealed, Truth::fails, "no person has said that the room is sealed and empty");
  else if (sealed && view.regime.broken)
    facts.set(Condition::sealed, Truth::fails,
              "since the room was sealed its door was opened, or people were seen in it");
  else
    facts.set(Condition::sealed, sealed ? Truth::holds : Truth::fails, "the room is not sealed");
}

void set_door(const ControlView& view, Monotonic now, Facts& facts) {
  const Doors& doors = view.doors;
  if (!doors.any) return;
  if (const auto found = contacts_of(view.room, view.sensors, Measurand::door, now);
      found.is == ContactsFound::State::missed)
    return facts.set(Condition::door_closed, Truth::missed, found.trouble);
  if (!doors.open)
    facts.set(Condition::door_closed, Truth::unknown,
              doors.trouble.empty() ? "the door contact has not answered yet" : doors.trouble);
  else
    facts.set(Condition::door_closed, *doors.open ? Truth::fails : Truth::holds, "the door is open");
}

/// @param good  the state in which the condition holds
void set_contact(const ControlView& view, Measurand measurand, Condition condition, bool good, const char* because,
                 Monotonic now, Facts& facts) {
  const auto found = contacts_of(view.room, view.sensors, measurand, now);
  switch (found.is) {
  case ContactsFound::State::not_fitted: return;
  case ContactsFound::State::unknown: return facts.set(condition, Truth::unknown, found.trouble);
  case ContactsFound::State::missed: return facts.set(condition, Truth::missed, found.trouble);
  case ContactsFound::State::yes: return facts.set(condition, good ? Truth::holds : Truth::fails, because);
  case ContactsFound::State::no: return facts.set(condition, good ? Truth::fails : Truth::holds, because);
  }
}

/// Every channel of a gas must be good: what votes for people is not good enough to let gas in by.
void set_measured(const ControlView& view, const std::vector<alarms::Channel>& channels, Measurand gas_measured,
                  Condition condition, std::string_view gas, Facts& facts) {
  const auto& reason = view.watched.reason;
  const bool monitored = view.watched.monitored;
  if (channels.empty()) return facts.set(condition, Truth::fails, fmt::format("nothing here measures {}", gas));
  bool all_good = monitored;
  for (const auto& channel : channels)
    all_good = all_good && channel.quality == Quality::good && alarms::is_usable(channel) && !channel.frozen;
  const std::string why = reason.empty() ? std::string{} : fmt::format(" ({})", reason);
  std::string missed;
  for (std::size_t i = 0; i < view.room.sensors.size(); ++i)
    if (point_of(view.room.sensors[i], gas_measured) && has_missed(view.sensors[i]))
      missed = fmt::format("{}: {}", view.room.sensors[i].name, view.sensors[i].error->detail);
  if (all_good && !missed.empty()) return facts.set(condition, Truth::missed, missed);
  facts.set(condition, all_good ? Truth::holds : Truth::unknown,
            fmt::format("{} is not measured in good quality{}", gas, why));
}

void set_over_pressure(const ControlView& view, Monotonic now, Facts& facts) {
  const auto found = over_pressure_of(view.room, view.sensors, now);
  if (!found.value_Pa && found.trouble.empty()) return;
  if (!found.value_Pa) {
    facts.set(Condition::over_pressure_measured, Truth::unknown, found.trouble);
    facts.set(Condition::over_pressure_within, Truth::unknown, "the room's over-pressure is not known");
    return;
  }
  facts.set(Condition::over_pressure_measured, found.missed ? Truth::missed : Truth::holds, found.trouble);
  const double most = view.room.over_pressure_most_Pa;
  const bool within = std::abs(*found.value_Pa) + view.room.coverage_factor * *found.u_Pa <= most;
  facts.set(
      Condition::over_pressure_within, within ? Truth::holds : Truth::fails,
      fmt::format("the room's over-pressure is {:+.0f} Pa, permitted are {:.0f} Pa either way", *found.value_Pa, most));
}

} // namespace

OverPressureFound over_pressure_of(const config::Room& room, const std::vector<SensorState>& sensors, Monotonic now) {
  for (std::size_t s = 0; s < room.sensors.size(); ++s) {
    const auto point = point_of(room.sensors[s], Measurand::over_pressure);
    if (!point) continue;
    const auto judged = judge(room.sensors[s], sensors[s], *point, now);
    if (judged.si && has_missed(sensors[s]))
      return {judged.si, judged.u_si, fmt::format("{}: {}", room.sensors[s].name, sensors[s].error->detail), true};
    if (judged.si) return {judged.si, judged.u_si, {}, false};
    return {{}, {}, fmt::format("{}: {}", room.sensors[s].name, cause_of(judged)), false};
  }
  return {};
}

Facts facts_of_room(const ControlView& view, Monotonic now) {
  Facts facts;
  set_sealed(view, facts);
  set_door(view, now, facts);
  set_contact(view, Measurand::occupancy, Condition::nobody_in, false, "people are in the room", now, facts);
  set_contact(view, Measurand::lights, Condition::lights_on, true, "the lights are off", now, facts);
  set_contact(view, Measurand::air_flow, Condition::air_circulates, true, "no fan mixes the air", now, facts);
  set_contact(view, Measurand::relief_valve, Condition::relief_free, false, "the relief valve is isolated", now, facts);
  if (view.entry_withheld)
    facts.set(Condition::entry_withheld, *view.entry_withheld ? Truth::holds : Truth::fails,
              "the lock of the door lets people in");
  set_measured(view, view.watched.oxygen, Measurand::oxygen, Condition::oxygen_measured, "oxygen", facts);
  set_measured(view, view.watched.carbon_dioxide, Measurand::carbon_dioxide, Condition::carbon_dioxide_measured,
               "carbon dioxide", facts);
  set_over_pressure(view, now, facts);
  facts.set(Condition::no_safety_alarm, view.safety_alarm ? Truth::fails : Truth::holds,
            "a safety alarm of the room stands, or is out of service");
  return facts;
}

} // namespace oxherd::daemon
