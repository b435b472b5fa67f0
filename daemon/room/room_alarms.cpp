#include "daemon/room/room_alarms.hpp"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

#include "alarms/due.hpp"
#include "alarms/rules/pending.hpp"
#include "alarms/suppression.hpp"
#include "config/hours.hpp"
#include "daemon/room/persons_unit.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Act;
using alarms::Channel;
using alarms::State;
using config::AlarmQuantity;

/// The civil time at which a suppression that was restored ends.
std::optional<WallTime> end_of(const std::optional<Monotonic>& until, Monotonic now, WallTime wall) {
  return until ? std::optional{wall + (*until - now)} : std::nullopt;
}

} // namespace

RoomAlarms::RoomAlarms(std::shared_ptr<const config::Settings> settings, std::size_t index, Monotonic now,
                       WallTime wall)
    : settings_{std::move(settings)}, index_{index} {
  for (const auto& a : room().alarms) {
    RoomAlarm alarm;
    alarm.state = alarms::initial(a.alarm, now);
    alarm.since = alarm.raised = alarm.returned = wall;
    states_.push_back(std::move(alarm));
  }
}

void RoomAlarms::restore(const AlarmSnapshot& snapshot, Monotonic now, WallTime wall) {
  for (std::size_t i = 0; i < room().alarms.size(); ++i) {
    if (room().alarms[i].name != snapshot.alarm) continue;
    RoomAlarm alarm;
    // Ages and what is left of a suppression are the record's own: whoever read it knows how far the civil clock can be
    // believed, and until when it says is not asked again here.
    alarm.state = alarms::restored(room().alarms[i].alarm, snapshot.recorded, now);
    alarm.since = snapshot.since;
    alarm.raised = snapshot.raised.value_or(snapshot.since);
    alarm.returned = snapshot.returned.value_or(snapshot.since);
    alarm.shelved = snapshot.shelved;
    alarm.shelved_until = end_of(alarm.state.standing.shelved_until, now, wall);
    alarm.out_of_service = snapshot.out_of_service;
    alarm.out_of_service_until = end_of(alarm.state.standing.out_of_service_until, now, wall);
    alarm.first_out = snapshot.first_out;
    alarm.told = snapshot.shown;
    alarm.decided_since = snapshot.decided_since;
    auto* degraded = std::get_if<alarms::DegradedState>(&alarm.state.rule);
    if (degraded && degraded->degraded_since && alarm.decided_since)
      degraded->degraded_since =
          now - std::max(Monotonic{0}, std::chrono::duration_cast<Monotonic>(wall - *alarm.decided_since));
    states_[i] = std::move(alarm);
  }
}

void RoomAlarms::continue_from(const RoomAlarms& before) {
  for (std::size_t i = 0; i < states_.size(); ++i)
    for (std::size_t b = 0; b < before.states_.size(); ++b) {
      const auto& mine = room().alarms[i];
      const auto& theirs = before.room().alarms[b];
      if (mine.name == theirs.name && mine.quantity == theirs.quantity) {
        alarms::keep_sums(mine.alarm.rule, states_[i].state.rule, theirs.alarm.rule, before.states_[b].state.rule);
        alarms::keep_pending(mine.alarm.rule, states_[i].state.rule, theirs.alarm.rule, before.states_[b].state.rule);
      }
      if (mine.name == theirs.name) states_[i].test_cut = before.states_[b].state.test.has_value();
    }
}

const std::vector<Channel>& RoomAlarms::channels_of(AlarmQuantity quantity) const {
  if (quantity == AlarmQuantity::carbon_dioxide) return last_.carbon_dioxide;
  return quantity == AlarmQuantity::oxygen_partial_pressure ? last_.oxygen_partial_pressure : last_.oxygen;
}

const config::SuppressedHours* RoomAlarms::suppressed_hours(std::size_t i) const {
  const auto& suppressed = room().alarms[i].suppressed;
  const bool now =
      suppressed && config::is_within(suppressed->hours, config::local_minutes(settings_->site.zone, last_wall_));
  return now ? &*suppressed : nullptr;
}

bool RoomAlarms::is_in_force(std::size_t i) const {
  const auto& settings = room().alarms[i];
  if (suppressed_hours(i) != nullptr) return false;
  return alarms::in_force(settings.regimes, settings.alarm.annunciation.safety, last_.presence);
}

alarms::RuleInput RoomAlarms::input_of(std::size_t i, bool new_sample) const {
  const auto quantity = room().alarms[i].quantity;
  const bool is_co2 = quantity == AlarmQuantity::carbon_dioxide;
  alarms::RuleInput in;
  in.channels = channels_of(quantity);
  in.scheme = is_co2 ? room().carbon_dioxide_vote : room().oxygen_vote;
  in.monitored = last_.monitored;
  in.new_sample = new_sample;
  // A channel that has not answered yet is no known fault: it is one once it is overdue, not at the first tick.
  const bool awaited = last_.oxygen_awaited || last_.carbon_dioxide_awaited;
  in.vote_health = awaited ? alarms::VoteHealth::full : last_.vote_health;
  in.door_open = last_.door_open;
  in.in_force = is_in_force(i);
  in.people_may_be_in = alarms::people_may_be_in(last_.presence);
  in.outputs_confirmed = last_.outputs.confirmed;
  in.control_tripped = !last_.control_trouble.empty();
  in.continuous = is_co2 || last_.oxygen_continuous;
  return in;
}

std::optional<Channel> RoomAlarms::value_of(std::size_t i) const {
  return alarms::value_of(room().alarms[i].alarm.rule, states_[i].state.rule, input_of(i, false));
}

template <class To> void RoomAlarms::describe(std::size_t i, To& to) const {
  const auto& settings = room().alarms[i];
  const auto value = value_of(i);
  to.room = room().name;
  to.alarm = settings.name;
  to.priority = settings.alarm.annunciation.priority;
  to.unit = unit_of(settings);
  if (value) {
    to.value = value->value;
    to.expanded = value->expanded;
  }
  to.limit = alarms::limit_of(settings.alarm.rule);
  to.text = alarm_message(settings_->site, room(), settings, states_[i], value, is_in_force(i), reason_of(i));
}

std::string RoomAlarms::reason_of(std::size_t i) const {
  if (const auto* hours = suppressed_hours(i))
    return fmt::format("{}, until {}", hours->because, config::clock_text(hours->hours.to));
  if (!is_in_force(i)) return fmt::format("the room is {}", name_of(last_.presence.regime));
  const auto& rule = room().alarms[i].alarm.rule;
  if (std::holds_alternative<alarms::ControlTripped>(rule)) return last_.control_trouble;
  return std::holds_alternative<alarms::OutputLost>(rule) ? last_.outputs.trouble : last_.reason;
}

AlarmOutcome RoomAlarms::outcome(std::size_t i, const char* event, WallTime wall) const {
  AlarmOutcome out;
  out.alarm = i;
  out.record.at = wall;
  out.record.event = event;
  out.record.from = out.record.to = alarms::shown(states_[i].state.standing);
  describe(i, out.record);
  return out;
}

void RoomAlarms::evaluate_one(std::size_t i, bool new_sample, Monotonic now, WallTime wall,
                              std::vector<AlarmOutcome>& outcomes) {
  RoomAlarm& alarm = states_[i];
  const bool chattered = alarm.state.chatter.chattering;
  const auto input = input_of(i, new_sample);
  auto followed = alarms::follow_regime(room().alarms[i].alarm, std::move(alarm.state), input.in_force, now);
  auto step = alarms::evaluate(room().alarms[i].alarm, std::move(followed.state), input, now);
  step.transitions.insert(step.transitions.begin(), followed.transitions.begin(), followed.transitions.end());
  alarm.state = std::move(step.state);
  const bool decided = alarms::is_decided(alarm.state.rule);
  if (!decided) alarm.decided_since.reset();
  if (decided && !alarm.decided_since) alarm.decided_since = wall;
  const auto add = [&](const char* event, const alarms::Transition& transition) {
    auto out = outcome(i, event, wall);
    out.record.from = transition.from;
    out.record.to = transition.to;
    out.record.cause = alarms::name_of(transition.cause);
    outcomes.push_back(std::move(out));
  };
  for (const auto* changes : {&step.transitions, &step.beneath})
    for (const auto& transition : *changes) {
      if (transition.to == State::unacknowledged) alarm.raised = wall;
      if (transition.cause == alarms::Cause::returned || transition.cause == alarms::Cause::test) alarm.returned = wall;
    }
  if (!step.transitions.empty()) alarm.since = wall;
  mark_first_out();
  for (const auto& transition : step.transitions) add("transition", transition);
  for (const auto& transition : step.beneath) add("transition-suppressed", transition);
  if (step.test_ended) outcomes.push_back(outcome(i, "test-ended", wall));
  if (alarm.state.chatter.chattering != chattered)
    outcomes.push_back(outcome(i, chattered ? "chattering-ended" : "chattering", wall));
}

std::vector<AlarmOutcome> RoomAlarms::evaluate(const WatchedQuantities& values, bool new_sample, Monotonic now,
                                               WallTime wall) {
  last_ = values;
  last_wall_ = wall;
  relay_excused_ = values.outputs.relay_lost || (relay_excused_ && !values.outputs.confirmed);
  std::vector<AlarmOutcome> outcomes;
  for (std::size_t i = 0; i < states_.size(); ++i) evaluate_one(i, new_sample, now, wall, outcomes);
  return outcomes;
}

/// The first alarm of the room to come keeps its mark until all of the room are normal again, or until it is hidden
/// itself. Those that come in the same step are taken in the order of the settings. A test is no alarm that came.
void RoomAlarms::mark_first_out() {
  const auto counts = [](const RoomAlarm& a) { return !alarms::is_suppressed(a.state.standing) && !a.state.simulated; };
  const auto stands = [&](const RoomAlarm& a) { return a.state.standing.beneath != State::normal && counts(a); };
  const bool any = std::any_of(states_.begin(), states_.end(), stands);
  for (auto& a : states_) a.first_out = a.first_out && any && counts(a);
  if (!any) return;
  if (std::any_of(states_.begin(), states_.end(), [](const RoomAlarm& a) { return a.first_out; })) return;
  std::find_if(states_.begin(), states_.end(), stands)->first_out = true;
}

AlarmOutcome RoomAlarms::take_up(std::size_t i, const char* event, Monotonic now, WallTime wall) {
  RoomAlarm& alarm = states_[i];
  alarm.state = alarms::follow_regime(room().alarms[i].alarm, std::move(alarm.state), is_in_force(i), now).state;
  const State is = alarms::shown(alarm.state.standing);
  if (is != alarm.told) alarm.since = wall;
  if (is != alarm.told && is == State::unacknowledged) alarm.raised = wall;
  auto out = outcome(i, event, wall);
  out.record.from = alarm.told;
  return out;
}

std::vector<AlarmOutcome> RoomAlarms::taken_over(TakenOver by, const WatchedQuantities& values, Monotonic now,
                                                 WallTime wall) {
  last_ = values;
  last_wall_ = wall;
  std::vector<AlarmOutcome> outcomes;
  for (std::size_t i = 0; i < states_.size(); ++i) {
    auto out = take_up(i, by == TakenOver::restart ? "restart" : "reload", now, wall);
    const bool stood = out.record.from != State::normal || out.record.to != State::normal;
    if (by == TakenOver::restart ? stood : out.record.from != out.record.to) outcomes.push_back(std::move(out));
    if (std::exchange(states_[i].test_cut, false)) outcomes.push_back(outcome(i, "test-ended", wall));
  }
  return outcomes;
}

void RoomAlarms::note_suppression(std::size_t i, const PersonAct& act, WallTime wall) {
  RoomAlarm& alarm = states_[i];
  if (act.act == Act::shelve || act.act == Act::shelve_once) {
    alarm.shelved = {act.author, act.comment};
    alarm.shelved_until = wall + act.duration;
  }
  if (act.act == Act::remove_from_service) {
    alarm.out_of_service = {act.author, act.comment};
    alarm.out_of_service_until = wall + act.duration;
  }
  if (act.act == Act::test) {
    alarm.tester = act.author;
    alarm.raised = wall; // the message of a test gives its own time
  }
}

std::optional<RoomAlarms::ActResult> RoomAlarms::act(const std::string& alarm, const PersonAct& act, Monotonic now,
                                                     WallTime wall) {
  const auto found = std::find_if(room().alarms.begin(), room().alarms.end(),
                                  [&](const config::AlarmSettings& a) { return a.name == alarm; });
  if (found == room().alarms.end()) return std::nullopt;
  const auto i = static_cast<std::size_t>(found - room().alarms.begin());
  const std::string act_name{alarms::name_of(act.act)};
  auto step = alarms::act(found->alarm, states_[i].state, {act.act, act.duration, act.comment}, now);
  ActResult result;
  const auto from = alarms::shown(states_[i].state.standing);
  if (step) {
    states_[i].state = std::move(step->state);
    if (alarms::shown(states_[i].state.standing) != from) states_[i].since = wall;
    note_suppression(i, act, wall);
    mark_first_out();
    result.outcome = outcome(i, act_name.c_str(), wall);
  } else {
    result.refusal = step.error().text;
    result.outcome = outcome(i, (act_name + "-refused").c_str(), wall);
    result.outcome.record.text = step.error().text;
  }
  result.outcome.record.from = from;
  result.outcome.record.cause = act_name;
  result.outcome.record.author = act.author;
  result.outcome.record.comment = act.comment;
  return result;
}

AlarmStatus RoomAlarms::status(std::size_t i, Monotonic now) const {
  const RoomAlarm& alarm = states_[i];
  const auto& standing = alarm.state.standing;
  AlarmStatus s;
  s.state = alarms::shown(standing);
  s.safety = room().alarms[i].alarm.annunciation.safety;
  s.quantity = config::name_of(room().alarms[i].quantity);
  s.shelve_at_most = room().alarms[i].alarm.annunciation.shelve_at_most;
  s.out_of_service_at_most = room().alarms[i].alarm.annunciation.out_of_service_at_most;
  s.sounding = alarms::sounds(standing, now);
  s.present = standing.present;
  s.first_out = alarm.first_out;
  s.chattering = alarm.state.chatter.chattering;
  s.test = alarm.state.simulated || alarm.state.test.has_value();
  s.in_force = is_in_force(i);
  s.coverage_factor = room().coverage_factor;
  s.since = alarm.since;
  s.raised = alarm.raised;
  if (s.state == State::out_of_service || s.state == State::shelved) {
    const bool out = s.state == State::out_of_service;
    s.suppressed_until = out ? alarm.out_of_service_until : alarm.shelved_until;
    const Suppressor& who = out ? alarm.out_of_service : alarm.shelved;
    s.suppressed_by = who.by;
    s.suppressed_because = who.reason;
  }
  describe(i, s);
  return s;
}

AlarmSnapshot RoomAlarms::snapshot(std::size_t i, Monotonic now, WallTime wall) const {
  const RoomAlarm& alarm = states_[i];
  AlarmSnapshot s;
  s.room = room().name;
  s.alarm = room().alarms[i].name;
  s.recorded = alarms::recorded(alarm.state, now);
  s.shown = alarms::shown(alarm.state.standing);
  s.since = alarm.since;
  if (s.recorded.shelved_remaining) {
    s.shelved_until = wall + *s.recorded.shelved_remaining;
    s.shelved = alarm.shelved;
  }
  if (s.recorded.out_of_service_remaining) {
    s.out_of_service_until = wall + *s.recorded.out_of_service_remaining;
    s.out_of_service = alarm.out_of_service;
  }
  s.first_out = alarm.first_out;
  s.decided_since = alarm.decided_since;
  s.raised = alarm.raised;
  s.returned = alarm.returned;
  return s;
}

std::string RoomAlarms::unguarded(Monotonic now) const {
  for (std::size_t i = 0; i < states_.size(); ++i) {
    const RoomAlarm& alarm = states_[i];
    if (alarms::is_overdue(room().alarms[i].alarm.rule, alarm.state.rule, now))
      return "a vote has lacked a channel for longer than permitted: repair it";
    if (!room().alarms[i].alarm.annunciation.safety || !alarm.state.standing.out_of_service_until) continue;
    return fmt::format("{} is out of service until {} by {}: {}", room().alarms[i].name,
                       alarm.out_of_service_until ? rfc3339_local(*alarm.out_of_service_until) : "an unknown time",
                       alarm.out_of_service.by, alarm.out_of_service.reason);
  }
  return {};
}

bool RoomAlarms::safety_alarm_stands() const {
  for (std::size_t i = 0; i < states_.size(); ++i)
    if (room().alarms[i].alarm.annunciation.safety && alarms::shown(states_[i].state.standing) != State::normal)
      return true;
  return false;
}

std::optional<Monotonic> RoomAlarms::due(Monotonic evaluated) const {
  std::optional<Monotonic> next;
  for (std::size_t i = 0; i < states_.size(); ++i)
    next = alarms::earlier(next, alarms::due(room().alarms[i].alarm, states_[i].state, evaluated));
  // Hours begin and end with a minute of the civil clock.
  const bool by_hours = std::any_of(room().alarms.begin(), room().alarms.end(),
                                    [](const config::AlarmSettings& a) { return a.suppressed.has_value(); });
  const auto minute = std::chrono::floor<std::chrono::minutes>(last_wall_) + std::chrono::minutes{1};
  return by_hours ? alarms::earlier(next, evaluated + (minute - last_wall_)) : next;
}

std::vector<alarms::Announced> RoomAlarms::announced(Monotonic now) const {
  std::vector<alarms::Announced> all;
  for (std::size_t i = 0; i < states_.size(); ++i) {
    const auto& standing = states_[i].state.standing;
    all.push_back(
        {alarms::shown(standing), room().alarms[i].alarm.annunciation.priority, alarms::sounds(standing, now)});
  }
  return all;
}

std::optional<State> RoomAlarms::state_of(const std::string& alarm) const {
  for (std::size_t i = 0; i < states_.size(); ++i)
    if (room().alarms[i].name == alarm) return alarms::shown(states_[i].state.standing);
  return std::nullopt;
}

bool RoomAlarms::relay_dropped() const {
  for (std::size_t i = 0; i < states_.size(); ++i) {
    const bool of_output = std::holds_alternative<alarms::OutputLost>(room().alarms[i].alarm.rule);
    if (of_output && relay_excused_) continue;
    if (room().alarms[i].alarm.annunciation.safety && alarms::drops_relay(states_[i].state.standing)) return true;
  }
  return false;
}

} // namespace oxherd::daemon
