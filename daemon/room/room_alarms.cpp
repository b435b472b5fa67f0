#include "daemon/room/room_alarms.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Channel;
using alarms::Quality;
using alarms::State;
using config::AlarmQuantity;

const alarms::Limit* limit_of(const config::AlarmSettings& alarm) {
  return std::get_if<alarms::Limit>(&alarm.alarm.rule);
}

/// A value as the messages write it: oxygen in %, CO2 in ppm, a partial pressure in kPa.
std::string in_persons_unit(AlarmQuantity quantity, double si) {
  switch (quantity) {
  case AlarmQuantity::oxygen: return fmt::format("{:.2f}", si * 100.0);
  case AlarmQuantity::carbon_dioxide: return fmt::format("{:.0f}", si * 1e6);
  case AlarmQuantity::oxygen_partial_pressure: return fmt::format("{:.2f} kPa", si / 1e3);
  case AlarmQuantity::monitoring: break;
  }
  return {};
}

/// The limit as a person wrote it: "19.5", not "19.50".
std::string limit_in_words(AlarmQuantity quantity, double si) {
  switch (quantity) {
  case AlarmQuantity::oxygen: return fmt::format("{:.6g}", si * 100.0);
  case AlarmQuantity::carbon_dioxide: return fmt::format("{:.6g}", si * 1e6);
  case AlarmQuantity::oxygen_partial_pressure: return fmt::format("{:.6g} kPa", si / 1e3);
  case AlarmQuantity::monitoring: break;
  }
  return {};
}

const char* unit_of(AlarmQuantity quantity) {
  if (quantity == AlarmQuantity::oxygen_partial_pressure) return "Pa";
  return quantity == AlarmQuantity::monitoring ? "" : "/";
}

std::optional<Monotonic> remaining(const std::optional<WallTime>& until, WallTime wall) {
  if (!until || *until <= wall) return std::nullopt;
  return std::chrono::duration_cast<Monotonic>(*until - wall);
}

bool is_active(State shown) { return shown != State::normal && shown != State::returned_to_normal_unacknowledged; }

} // namespace

std::optional<Channel> standing_value(const std::vector<Channel>& channels, alarms::Direction unfavourable) {
  std::vector<Channel> usable;
  for (const auto& c : channels)
    if (c.quality != Quality::bad) usable.push_back(c);
  if (usable.empty()) return std::nullopt;
  std::sort(usable.begin(), usable.end(), [](const Channel& a, const Channel& b) { return a.value < b.value; });
  if (usable.size() >= 3) return usable[usable.size() / 2];
  return unfavourable == alarms::Direction::low ? usable.front() : usable.back();
}

RoomAlarms::RoomAlarms(const config::Room& room, const config::Site& site, Monotonic now, WallTime wall)
    : room_{room}, site_{site} {
  for (const auto& a : room_.alarms) states_.push_back({alarms::initial(a.alarm, now), wall, wall});
}

void RoomAlarms::restore(const AlarmSnapshot& snapshot, Monotonic now, WallTime wall) {
  for (std::size_t i = 0; i < room_.alarms.size(); ++i) {
    if (room_.alarms[i].name != snapshot.alarm) continue;
    auto recorded = snapshot.recorded;
    recorded.shelved_remaining = remaining(snapshot.shelved_until, wall);
    recorded.out_of_service_remaining = remaining(snapshot.out_of_service_until, wall);
    // A wall clock that was set back since must not make an alarm younger than "just now".
    recorded.age = std::max(Monotonic{0}, std::chrono::duration_cast<Monotonic>(wall - snapshot.since));
    states_[i] = {alarms::restored(room_.alarms[i].alarm, recorded, now), snapshot.since, snapshot.since};
  }
}

const std::vector<Channel>& RoomAlarms::channels_of(AlarmQuantity quantity) const {
  if (quantity == AlarmQuantity::carbon_dioxide) return last_.carbon_dioxide;
  return quantity == AlarmQuantity::oxygen_partial_pressure ? last_.oxygen_partial_pressure : last_.oxygen;
}

std::optional<Channel> RoomAlarms::value_of(std::size_t i) const {
  const auto& settings = room_.alarms[i];
  const auto* limit = limit_of(settings);
  if (!limit) return std::nullopt;
  return standing_value(channels_of(settings.quantity), limit->direction);
}

std::string RoomAlarms::message(std::size_t i) const {
  const auto& settings = room_.alarms[i];
  alarms::MessageFields f;
  f.room = room_.name;
  f.alarm = settings.name;
  f.since = rfc3339_local(states_[i].raised);
  f.emergency = site_.emergency;
  f.reason = last_.reason.empty() ? "no reason known" : last_.reason;
  const auto* limit = limit_of(settings);
  const bool active = is_active(alarms::shown(states_[i].state.standing)) || states_[i].state.standing.present;
  const auto value = value_of(i);
  f.value = value ? in_persons_unit(settings.quantity, value->value) : "unknown";
  if (!active) {
    f.since = rfc3339_local(states_[i].since);
    return alarms::shown(states_[i].state.standing) == State::normal ? std::string{} : alarms::returned_text(f);
  }
  if (!limit) return alarms::not_monitored_text(f);
  f.limit = limit_in_words(settings.quantity, limit->limit);
  const bool low = limit->direction == alarms::Direction::low;
  const double edge = value ? value->value + (low ? -value->expanded : value->expanded) : 0.0;
  f.lower = value ? in_persons_unit(settings.quantity, edge) : "unknown";
  std::string text = settings.quantity == AlarmQuantity::carbon_dioxide ? alarms::high_carbon_dioxide_text(f)
                     : low                                              ? alarms::low_oxygen_text(f)
                                                                        : alarms::high_oxygen_text(f);
  if (!value) text += " No channel gives a valid reading (" + f.reason + "); a lost channel counts as a trip.";
  const bool by_guard_band_alone = value && (low ? value->value > limit->limit : value->value < limit->limit) &&
                                   (low ? edge <= limit->limit : edge >= limit->limit);
  if (by_guard_band_alone)
    text += " " +
            alarms::guard_band_text(f.value, in_persons_unit(settings.quantity, value->expanded),
                                    last_.reason.empty() ? "the normal uncertainty of the measurement" : last_.reason);
  return text;
}

AlarmOutcome RoomAlarms::outcome(std::size_t i, const char* event, WallTime wall) const {
  const auto& settings = room_.alarms[i];
  AlarmOutcome out;
  out.alarm = i;
  out.record.at = wall;
  out.record.room = room_.name;
  out.record.alarm = settings.name;
  out.record.event = event;
  out.record.from = out.record.to = alarms::shown(states_[i].state.standing);
  out.record.priority = settings.alarm.annunciation.priority;
  out.record.unit = unit_of(settings.quantity);
  if (const auto value = value_of(i)) {
    out.record.value = value->value;
    out.record.expanded = value->expanded;
  }
  if (const auto* limit = limit_of(settings)) out.record.limit = limit->limit;
  out.record.text = message(i);
  return out;
}

std::vector<AlarmOutcome> RoomAlarms::evaluate(const WatchedQuantities& values, bool new_sample, Monotonic now,
                                               WallTime wall) {
  last_ = values;
  std::vector<AlarmOutcome> outcomes;
  for (std::size_t i = 0; i < states_.size(); ++i) {
    const auto& settings = room_.alarms[i];
    const auto& channels = channels_of(settings.quantity);
    const bool is_co2 = settings.quantity == AlarmQuantity::carbon_dioxide;
    // A channel that has not answered yet is no known fault: it votes once it is overdue, not at the first tick.
    if (limit_of(settings) && (is_co2 ? values.carbon_dioxide_awaited : values.oxygen_awaited)) continue;
    const alarms::RuleInput in{channels, is_co2 ? room_.carbon_dioxide_vote : room_.oxygen_vote, values.monitored,
                               new_sample};
    auto step = alarms::evaluate(settings.alarm, states_[i].state, in, now);
    states_[i].state = step.state;
    for (const auto& transition : step.transitions) {
      states_[i].since = wall;
      if (transition.to == State::unacknowledged) states_[i].raised = wall;
      auto out = outcome(i, "transition", wall);
      out.record.from = transition.from;
      out.record.to = transition.to;
      out.record.cause = alarms::name_of(transition.cause);
      outcomes.push_back(std::move(out));
    }
  }
  return outcomes;
}

std::vector<AlarmOutcome> RoomAlarms::standing(const char* event, WallTime wall) const {
  std::vector<AlarmOutcome> outcomes;
  for (std::size_t i = 0; i < states_.size(); ++i)
    if (alarms::shown(states_[i].state.standing) != State::normal) outcomes.push_back(outcome(i, event, wall));
  return outcomes;
}

std::optional<RoomAlarms::ActResult> RoomAlarms::act(const std::string& alarm, alarms::Act act,
                                                     const std::string& author, const std::string& comment,
                                                     Monotonic now, WallTime wall) {
  const auto found = std::find_if(room_.alarms.begin(), room_.alarms.end(),
                                  [&](const config::AlarmSettings& a) { return a.name == alarm; });
  if (found == room_.alarms.end()) return std::nullopt;
  const auto i = static_cast<std::size_t>(found - room_.alarms.begin());
  const std::string act_name{alarms::name_of(act)};
  auto step = alarms::act(found->alarm, states_[i].state, act, now);
  ActResult result;
  const auto from = alarms::shown(states_[i].state.standing);
  if (step) {
    states_[i].state = step->state;
    if (alarms::shown(step->state.standing) != from) states_[i].since = wall;
    result.outcome = outcome(i, act_name.c_str(), wall);
  } else {
    result.refusal = step.error().text;
    result.outcome = outcome(i, (act_name + "-refused").c_str(), wall);
    result.outcome.record.text = step.error().text;
  }
  result.outcome.record.from = from;
  result.outcome.record.cause = act_name;
  result.outcome.record.author = author;
  result.outcome.record.comment = comment;
  return result;
}

AlarmStatus RoomAlarms::status(std::size_t i, Monotonic now) const {
  const auto& settings = room_.alarms[i];
  const auto& standing = states_[i].state.standing;
  AlarmStatus s;
  s.room = room_.name;
  s.alarm = settings.name;
  s.state = alarms::shown(standing);
  s.priority = settings.alarm.annunciation.priority;
  s.safety = settings.alarm.annunciation.safety;
  s.sounding = alarms::sounds(standing, now);
  s.present = standing.present;
  s.since = states_[i].since;
  s.unit = unit_of(settings.quantity);
  if (const auto value = value_of(i)) {
    s.value = value->value;
    s.expanded = value->expanded;
  }
  if (const auto* limit = limit_of(settings)) s.limit = limit->limit;
  s.text = message(i);
  return s;
}

AlarmSnapshot RoomAlarms::snapshot(std::size_t i, Monotonic now, WallTime wall) const {
  AlarmSnapshot s;
  s.room = room_.name;
  s.alarm = room_.alarms[i].name;
  s.recorded = alarms::recorded(states_[i].state, now);
  s.since = states_[i].since;
  if (s.recorded.shelved_remaining) s.shelved_until = wall + *s.recorded.shelved_remaining;
  if (s.recorded.out_of_service_remaining) s.out_of_service_until = wall + *s.recorded.out_of_service_remaining;
  return s;
}

bool RoomAlarms::relay_dropped() const {
  for (std::size_t i = 0; i < states_.size(); ++i)
    if (room_.alarms[i].alarm.annunciation.safety && alarms::drops_relay(states_[i].state.standing)) return true;
  return false;
}

} // namespace oxherd::daemon
