#include "daemon/room/alarm_message.hpp"

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Channel;
using alarms::State;
using config::AlarmQuantity;

/// What messages give values in: oxygen in %, CO2 in ppm, a partial pressure in kPa.
struct PersonsUnit {
  double per_si = 1.0;
  int decimals = 0;
  const char* name = "";
  bool named = false; ///< behind every number; the texts have the others' units already
};

PersonsUnit persons_unit(AlarmQuantity quantity) {
  switch (quantity) {
  case AlarmQuantity::oxygen: return {1e2, 2, "%", false};
  case AlarmQuantity::carbon_dioxide: return {1e6, 0, "ppm", false};
  case AlarmQuantity::oxygen_partial_pressure: return {1e-3, 2, "kPa", true};
  case AlarmQuantity::monitoring: break;
  }
  return {};
}

std::string in_persons_unit(AlarmQuantity quantity, double si) {
  const auto unit = persons_unit(quantity);
  const auto number = fmt::format("{:.{}f}", si * unit.per_si, unit.decimals);
  return unit.named ? number + " " + unit.name : number;
}

/// The limit as a person wrote it: "19.5", not "19.50".
std::string limit_in_words(AlarmQuantity quantity, double si) {
  const auto unit = persons_unit(quantity);
  return fmt::format("{:.6g}{}{}", si * unit.per_si, unit.named ? " " : "", unit.named ? unit.name : "");
}

std::string limit_message(const config::AlarmSettings& settings, const alarms::Limit& limit,
                          const std::optional<Channel>& value, alarms::MessageFields f) {
  f.limit = limit_in_words(settings.quantity, limit.limit);
  const bool low = limit.direction == alarms::Direction::low;
  const double edge = value ? value->value + (low ? -value->expanded : value->expanded) : 0.0;
  f.lower = value ? in_persons_unit(settings.quantity, edge) : "unknown";
  std::string text = settings.quantity == AlarmQuantity::carbon_dioxide ? alarms::high_carbon_dioxide_text(f)
                     : low                                              ? alarms::low_oxygen_text(f)
                                                                        : alarms::high_oxygen_text(f);
  const std::string why = f.reason.empty() ? "no reason known" : f.reason;
  if (!value) text += " No channel gives a valid reading (" + why + "); a lost channel counts as a trip.";
  const bool by_guard_band_alone = value && (low ? value->value > limit.limit : value->value < limit.limit) &&
                                   (low ? edge <= limit.limit : edge >= limit.limit);
  if (by_guard_band_alone)
    text += " " + alarms::guard_band_text(f.value, in_persons_unit(settings.quantity, value->expanded),
                                          f.reason.empty() ? "the normal uncertainty of the measurement" : f.reason);
  return text;
}

/// What stands for as long as nobody is warned; empty when the alarm is not suppressed.
std::string suppression_message(const RoomAlarm& alarm, alarms::MessageFields f) {
  const auto say = [&](const Suppressor& who, const std::optional<WallTime>& until, std::string_view how) {
    f.by = who.by.empty() ? "someone unknown" : who.by;
    f.reason = who.reason.empty() ? "no reason recorded" : who.reason;
    f.until = until ? rfc3339_local(*until) : "an unknown time";
    return alarms::suppressed_text(f, how);
  };
  switch (alarms::shown(alarm.state.standing)) {
  case State::out_of_service: return say(alarm.out_of_service, alarm.out_of_service_until, "out of service");
  case State::shelved: return say(alarm.shelved, alarm.shelved_until, "shelved");
  case State::suppressed_by_design:
    f.reason = "by the settings of its room";
    return alarms::suppressed_by_design_text(f);
  default: return {};
  }
}

} // namespace

const char* unit_of(AlarmQuantity quantity) {
  if (quantity == AlarmQuantity::oxygen_partial_pressure) return "Pa";
  return quantity == AlarmQuantity::monitoring ? "" : "/";
}

std::string alarm_message(const config::Site& site, const config::Room& room, const config::AlarmSettings& settings,
                          const RoomAlarm& alarm, const std::optional<Channel>& value, const std::string& reason) {
  const State shown = alarms::shown(alarm.state.standing);
  alarms::MessageFields f;
  f.site = site.name;
  f.room = room.name;
  f.alarm = settings.name;
  f.since = rfc3339_local(alarm.raised);
  f.emergency = site.emergency;
  f.reason = reason;
  if (auto text = suppression_message(alarm, f); !text.empty()) return text;
  if (alarm.state.simulated || alarm.state.test) {
    f.by = alarm.tester;
    return alarms::alarm_test_text(f);
  }
  f.value = value ? in_persons_unit(settings.quantity, value->value) : "unknown";
  if (shown == State::normal) return {};
  if (!alarm.state.standing.present) {
    f.since = rfc3339_local(alarm.returned);
    const auto unit = persons_unit(settings.quantity);
    f.unit = unit.name;
    if (value) f.value = fmt::format("{:.{}f}", value->value * unit.per_si, unit.decimals);
    return settings.quantity == AlarmQuantity::monitoring ? alarms::monitored_again_text(f) : alarms::returned_text(f);
  }
  if (const auto* limit = std::get_if<alarms::Limit>(&settings.alarm.rule))
    return limit_message(settings, *limit, value, f);
  if (f.reason.empty()) f.reason = "no reason known";
  return alarms::not_monitored_text(f);
}

} // namespace oxherd::daemon
