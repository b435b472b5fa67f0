#include "alarms/alarm.hpp"

#include <algorithm>
#include <cassert>
#include <utility>

namespace oxherd::alarms {

namespace {

/// What has changed since `before`, as the journal wants it.
void note(AlarmStep& step, const Standing& before, Cause cause) {
  const Standing& after = step.state.standing;
  if (shown(after) != shown(before))
    step.transitions.push_back({shown(before), shown(after), cause});
  else if (after.beneath != before.beneath)
    step.beneath.push_back({before.beneath, after.beneath, cause});
}

Decision advance(const Rule& rule, RuleState& state, const RuleInput& in, Monotonic now) {
  return std::visit(
      [&](const auto& kind) {
        using Own = decltype(next(kind, {}, in, now).state);
        auto* own = std::get_if<Own>(&state);
        assert(own != nullptr); // a state of another kind of rule: whoever swapped the rule must use restored()
        auto step = next(kind, std::move(*own), in, now);
        *own = std::move(step.state);
        return step.decision;
      },
      rule);
}

RuleState rule_state(const Rule& rule, bool was_present, Monotonic now) {
  if (std::holds_alternative<NotMonitored>(rule)) return restored_not_monitored(was_present, now);
  return restored(was_present, now);
}

bool lies_beneath(State state) {
  return state != State::shelved && state != State::suppressed_by_design && state != State::out_of_service;
}

/// The recorded state, or the graver reading of a record that contradicts itself.
State beneath_of(const Alarm& alarm, const Recorded& recorded, bool present) {
  if (present) return recorded.beneath == State::acknowledged ? State::acknowledged : State::unacknowledged;
  const bool lost_latch = alarm.annunciation.latching && recorded.tripped_while_suppressed;
  if (lost_latch && recorded.beneath == State::normal) return State::latched_unacknowledged;
  return recorded.beneath;
}

} // namespace

AlarmState initial(const Alarm& alarm, Monotonic now) {
  AlarmState state{rule_state(alarm.rule, false, now), {}};
  state.standing.since = now;
  return state;
}

AlarmStep evaluate(const Alarm& alarm, AlarmState state, const RuleInput& in, Monotonic now) {
  AlarmStep step{state, {}, {}};
  Standing& standing = step.state.standing;

  // The condition comes first: one that ends in this step is not annunciated again by a timer of this step.
  Standing before = standing;
  const Decision decision = advance(alarm.rule, step.state.rule, in, now);
  if (decision == Decision::appears) standing = condition_appears(alarm.annunciation, standing, now);
  if (decision == Decision::ends) standing = condition_ends(alarm.annunciation, standing, now);
  note(step, before, decision == Decision::ends ? Cause::returned : Cause::condition);

  before = standing;
  standing = pass_time(alarm.annunciation, standing, now);
  note(step, before, shown(before) == State::acknowledged ? Cause::re_annunciation : Cause::timer);
  return step;
}

tl::expected<AlarmStep, Refusal> act(const Alarm& alarm, AlarmState state, Act act, Monotonic now) {
  auto after = apply(alarm.annunciation, state.standing, act, now);
  if (!after) return tl::unexpected(std::move(after.error()));
  AlarmStep step{state, {}, {}};
  const Standing before = std::exchange(step.state.standing, *after);
  note(step, before, act == Act::reset ? Cause::reset : Cause::acknowledge); // silence changes no state
  return step;
}

AlarmState restored(const Alarm& alarm, const Recorded& recorded, Monotonic now) {
  const Annunciation& a = alarm.annunciation;
  const bool condition_implied = recorded.beneath == State::unacknowledged || recorded.beneath == State::acknowledged;
  const bool present = recorded.present || condition_implied || !lies_beneath(recorded.beneath);
  AlarmState state{rule_state(alarm.rule, present, now), {}};
  Standing& s = state.standing;
  s.beneath = beneath_of(alarm, recorded, present);
  s.present = present;
  s.since = now - recorded.age;
  if (recorded.shelved_remaining)
    s.shelved_until = a.safety ? now : now + std::min(*recorded.shelved_remaining, a.shelve_at_most);
  if (recorded.out_of_service_remaining)
    s.out_of_service_until = now + std::min(*recorded.out_of_service_remaining, a.out_of_service_at_most);
  s.tripped_while_suppressed =
      recorded.tripped_while_suppressed && (s.shelved_until.has_value() || s.out_of_service_until.has_value());
  return state;
}

Recorded recorded(const AlarmState& state, Monotonic now) {
  const Standing& s = state.standing;
  Recorded record;
  record.beneath = s.beneath;
  if (s.suppressed_by_design && s.beneath == State::acknowledged) record.beneath = State::unacknowledged;
  record.present = s.present;
  record.tripped_while_suppressed = s.tripped_while_suppressed;
  record.age = now - s.since;
  if (s.shelved_until) record.shelved_remaining = *s.shelved_until - now;
  if (s.out_of_service_until) record.out_of_service_remaining = *s.out_of_service_until - now;
  return record;
}

} // namespace oxherd::alarms
