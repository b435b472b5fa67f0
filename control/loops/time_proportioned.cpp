#include "control/loops/time_proportioned.hpp"

#include <algorithm>
#include <cassert>

namespace oxherd::control {
namespace {

using alarms::seconds_of;

/// Half a tick of the clock: less cannot be given, and sums of many intervals are rounded.
constexpr double nothing_s = 0.0005;

void count_since_last_call(TimeProportionedState& state, Monotonic now) {
  const double passed_s = seconds_of(now - state.last);
  state.owed_s += passed_s * (state.duty - (state.on ? 1.0 : 0.0));
  state.last = now;
}

void switch_to(TimeProportionedState& state, bool on, Monotonic now) {
  if (state.on != on) state.since = now;
  state.on = on;
}

} // namespace

std::string_view problem_of(const TimeProportioned& rule) {
  if (rule.cycle <= Monotonic{0}) return "the cycle must be longer than nothing";
  if (rule.on_least < Monotonic{0} || rule.off_least < Monotonic{0}) return "a least time is below zero";
  if (rule.on_least + rule.off_least > rule.cycle) return "the least on-time and off-time do not fit into the cycle";
  return "";
}

TimeProportionedStep next(const TimeProportioned& rule, TimeProportionedState state, double duty, Monotonic now) {
  assert(problem_of(rule).empty());
  assert(duty >= 0.0 && duty <= 1.0); // false for NaN
  const bool paused = state.cycle_began && now - state.last > rule.cycle;
  if (!state.cycle_began || paused) {
    // What was owed before a pause is stale; the switching itself still counts for the least times.
    state = {.on = state.on, .since = state.since, .cycle_began = now, .last = now, .duty = duty};
    if (!paused) state.since = now - rule.off_least; // nothing is known of the time before the first call
  }
  count_since_last_call(state, now);

  const bool rested = state.on || now - state.since >= rule.off_least;
  if (now - *state.cycle_began >= rule.cycle && rested) state.cycle_began = now;
  const bool begins = *state.cycle_began == now;
  state.duty = begins ? duty : std::min(state.duty, duty);
  if (begins) state.owed_at_beginning_s = state.owed_s;

  const auto left = std::max(Monotonic{0}, *state.cycle_began + rule.cycle - now);
  const double to_give_s = state.owed_s + state.duty * seconds_of(left);
  if (state.on) {
    const bool may_end = now - state.since >= rule.on_least;
    // The gap that this duty leaves in a whole cycle, not what is left of this one: a demand that ends must cut the
    // pulse however late it does.
    const double gap_s = (1.0 - state.duty) * seconds_of(rule.cycle) - state.owed_at_beginning_s;
    const bool gap_is_long_enough = state.duty < 1.0 && gap_s >= seconds_of(rule.off_least) - nothing_s;
    if (to_give_s < nothing_s && may_end && gap_is_long_enough) switch_to(state, false, now);
  } else if (begins && rested && state.duty > 0.0) {
    const double least_s = std::max(seconds_of(rule.on_least) - nothing_s, nothing_s);
    if (to_give_s >= least_s) switch_to(state, true, now);
  }
  return {state, state.on};
}

} // namespace oxherd::control
