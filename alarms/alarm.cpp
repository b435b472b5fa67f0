#include "alarms/alarm.hpp"

#include <algorithm>
#include <cstdlib>
#include <utility>

#include "alarms/suppression.hpp"

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

/// Lets the rule judge, if the alarm is in force.
void judge(const Alarm& alarm, AlarmStep& step, const RuleInput& in, Monotonic now) {
  if (in.in_force || !alarm.annunciation.safety)
    advance(alarm.rule, step.state.rule, in, now);
  else
    step.state.rule = restored(alarm.rule, false, now);
}

/// Lets a test go on, or ends it: when its time is over, when the condition is real, when nobody would see it.
void run_test(const Alarm& alarm, AlarmStep& step, Monotonic now) {
  AlarmState& state = step.state;
  if (!state.test) return;
  if (is_decided(state.rule) || now >= state.test->until || is_suppressed(state.standing)) {
    state.test.reset();
    step.test_ended = true;
    return;
  }
  constexpr Votes votes{.starts = true, .continues = true, .stands = true};
  const Delayed after = after_delays(delays_of(alarm.rule), state.test->phase, state.test->since, votes, now);
  state.test->phase = after.phase;
  state.test->since = after.since;
}

/// Brings the annunciation in line with the rule and the test.
void annunciate(const Alarm& alarm, AlarmStep& step, Monotonic now) {
  AlarmState& state = step.state;
  const Standing before = state.standing;
  const bool real = is_decided(state.rule);
  if (real && state.simulated && before.present) {
    // Whoever acknowledged the test has not seen this: it is announced as new, from any state.
    state.standing.present = false;
    state.standing = condition_appears(alarm.annunciation, state.standing, now);
    state.simulated = false;
    state.chatter = after_occurrence(state.chatter, now);
    const bool seen = !is_suppressed(state.standing);
    if (seen) state.standing.since = now;
    (seen ? step.transitions : step.beneath).push_back({before.beneath, state.standing.beneath, Cause::condition});
    return;
  }
  const bool present = real || (state.test && is_decided(state.test->phase));
  if (present && !before.present) {
    state.standing = condition_appears(alarm.annunciation, state.standing, now);
    state.simulated = !real;
    note(step, before, real ? Cause::condition : Cause::test);
    if (real) state.chatter = after_occurrence(state.chatter, now);
  } else if (!present && before.present) {
    state.standing = condition_ends(alarm.annunciation, state.standing, now);
    note(step, before, state.simulated ? Cause::test : Cause::returned);
  }
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
  AlarmState state{restored(alarm.rule, false, now), {}, {}, false, {}};
  state.standing.since = now;
  return state;
}

AlarmStep follow_regime(const Alarm& alarm, AlarmState state, bool in_force, Monotonic now) {
  AlarmStep step{std::move(state), {}, {}, false};
  const Standing before = step.state.standing;
  if (const auto after = suppress_by_design(alarm.annunciation, before, !in_force, now)) step.state.standing = *after;
  note(step, before, Cause::suppression);
  return step;
}

AlarmStep evaluate(const Alarm& alarm, AlarmState state, const RuleInput& in, Monotonic now) {
  AlarmStep step{std::move(state), {}, {}, false};
  judge(alarm, step, in, now);
  run_test(alarm, step, now);
  // The condition comes first: one that ends in this step is not annunciated again by a timer of this step.
  annunciate(alarm, step, now);
  Standing& standing = step.state.standing;
  const Standing before = standing;
  standing = pass_time(alarm.annunciation, standing, now);
  note(step, before, shown(before) == State::acknowledged ? Cause::re_annunciation : Cause::timer);
  if (standing.beneath == State::normal) step.state.simulated = false;
  step.state.chatter = after_quiet(step.state.chatter, now);
  return step;
}

namespace {

Cause cause_of(Act act) {
  switch (act) {
  case Act::acknowledge:
  case Act::silence: return Cause::acknowledge; // silence changes no state
  case Act::reset: return Cause::reset;
  case Act::shelve:
  case Act::shelve_once:
  case Act::unshelve: return Cause::shelve;
  case Act::remove_from_service:
  case Act::return_to_service: return Cause::service;
  case Act::test:
  case Act::end_test: return Cause::test;
  }
  std::abort(); // not one of the acts: memory is corrupt, stop loudly
}

tl::expected<Standing, Refusal> stand(const Annunciation& a, const Standing& s, const Demand& demand, Monotonic now) {
  switch (demand.act) {
  case Act::acknowledge: return acknowledge(s, now);
  case Act::silence: return silence(a, s, now);
  case Act::reset: return reset(s, now);
  case Act::shelve: return shelve(a, s, demand.duration, demand.reason, now);
  case Act::shelve_once: return shelve(a, s, demand.duration, demand.reason, now, true);
  case Act::unshelve: return unshelve(a, s, now);
  case Act::remove_from_service: return remove_from_service(a, s, demand.duration, demand.reason, now);
  case Act::return_to_service: return return_to_service(a, s, now);
  case Act::test:
  case Act::end_test: return s; // these act on the simulation alone
  }
  std::abort();
}

tl::expected<void, Refusal> change_test(const Alarm& alarm, AlarmState& state, const Demand& demand, Monotonic now) {
  if (demand.act == Act::test) {
    const auto test = begin_test(alarm.annunciation, delays_of(alarm.rule), state.standing, state.test.has_value(),
                                 demand.duration, now);
    if (!test) return tl::unexpected(test.error());
    state.test = *test;
  }
  if (demand.act == Act::end_test) {
    if (!state.test) return tl::unexpected(Refusal{"the alarm is not being tested: there is no test to end"});
    state.test->until = now; // the next evaluation ends it
  }
  return {};
}

} // namespace

tl::expected<AlarmStep, Refusal> act(const Alarm& alarm, AlarmState state, const Demand& demand, Monotonic now) {
  auto after = stand(alarm.annunciation, state.standing, demand, now);
  if (!after) return tl::unexpected(std::move(after.error()));
  if (auto done = change_test(alarm, state, demand, now); !done) return tl::unexpected(std::move(done.error()));
  AlarmStep step{std::move(state), {}, {}, false};
  const Standing before = std::exchange(step.state.standing, *after);
  if (after->beneath == State::normal) step.state.simulated = false;
  note(step, before, cause_of(demand.act));
  return step;
}

AlarmState restored(const Alarm& alarm, const Recorded& recorded, Monotonic now) {
  const Annunciation& a = alarm.annunciation;
  const bool condition_implied = recorded.beneath == State::unacknowledged || recorded.beneath == State::acknowledged;
  const bool present = recorded.present || condition_implied || !lies_beneath(recorded.beneath);
  AlarmState state{restored(alarm.rule, present, now), {}, {}, false, {}};
  Standing& s = state.standing;
  s.beneath = beneath_of(alarm, recorded, present);
  s.present = present;
  s.since = now - recorded.age;
  if (recorded.shelved_remaining)
    s.shelved_until = a.safety ? now : now + std::min(*recorded.shelved_remaining, a.shelve_at_most);
  s.shelved_once = s.shelved_until.has_value() && recorded.shelved_once;
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
  if ((s.suppressed_by_design || state.simulated) && s.beneath == State::acknowledged)
    record.beneath = State::unacknowledged; // whoever acknowledged a test has not seen what is taken for real after it
  record.present = s.present;
  record.tripped_while_suppressed = s.tripped_while_suppressed;
  record.age = now - s.since;
  if (s.shelved_until) record.shelved_remaining = *s.shelved_until - now;
  record.shelved_once = s.shelved_once;
  if (s.out_of_service_until) record.out_of_service_remaining = *s.out_of_service_until - now;
  return record;
}

} // namespace oxherd::alarms
