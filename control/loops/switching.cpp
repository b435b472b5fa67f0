#include "control/loops/switching.hpp"

#include <cassert>

namespace oxherd::control {
namespace {

constexpr Monotonic one_hour{std::chrono::hours{1}};

void switch_to(const Switching& rule, SwitchingState& state, bool on, Monotonic now) {
  state.on = on;
  state.since = now;
  if (!on || !rule.times.starts_per_hour) return;
  state.starts.push_back(now);
  const auto kept = static_cast<std::size_t>(*rule.times.starts_per_hour);
  if (state.starts.size() > kept)
    state.starts.erase(state.starts.begin(), state.starts.end() - static_cast<std::ptrdiff_t>(kept));
}

/// What keeps it off, the longest-lasting reason; empty: nothing.
std::optional<HeldBack> kept_off(const Switching& rule, const SwitchingState& state, Monotonic now) {
  if (state.spent && rule.after_most == AfterMost::waits_for_want) return HeldBack{Held::most_on, std::nullopt};
  std::optional<HeldBack> hold;
  if (state.since && now < *state.since + rule.times.off_least)
    hold = HeldBack{state.spent ? Held::most_on : Held::least_off, *state.since + rule.times.off_least};
  const auto& most = rule.times.starts_per_hour;
  if (most && state.starts.size() >= static_cast<std::size_t>(*most)) {
    // The one that has to be an hour old before there may be another.
    const auto free_at = state.starts[state.starts.size() - static_cast<std::size_t>(*most)] + one_hour;
    if (now < free_at && (!hold || *hold->until < free_at)) hold = HeldBack{Held::starts, free_at};
  }
  return hold;
}

SwitchingStep while_on(const Switching& rule, SwitchingState state, Want want, Monotonic now) {
  const auto& times = rule.times;
  if (want.urgent) {
    if (!want.on) switch_to(rule, state, false, now);
    return {state};
  }
  if (times.on_most && state.since && now >= *state.since + *times.on_most) {
    switch_to(rule, state, false, now);
    state.spent = want.on;
    SwitchingStep ended{state, {}, true, {}};
    if (want.on) {
      ended.hold = kept_off(rule, state, now);
      if (!ended.hold)
        ended.hold = HeldBack{Held::most_on, now + Monotonic{1}}; // no least off-time: the next step starts
      ended.due = ended.hold->until;
    }
    return ended;
  }
  std::optional<Monotonic> end;
  if (times.on_most && state.since) end = *state.since + *times.on_most;
  if (want.on) return {state, {}, false, end};
  if (state.since && now < *state.since + times.on_least) {
    const auto until = *state.since + times.on_least;
    return {state, HeldBack{Held::least_on, until}, false, until};
  }
  switch_to(rule, state, false, now);
  return {state};
}

} // namespace

std::string_view problem_of(const Switching& rule) {
  const auto& times = rule.times;
  if (times.on_least < Monotonic{0} || times.off_least < Monotonic{0}) return "a least time is below zero";
  if (times.on_most && *times.on_most <= Monotonic{0}) return "the longest on-time must be above zero";
  if (times.on_most && *times.on_most < times.on_least) return "the longest on-time is shorter than the least one";
  if (times.starts_per_hour && *times.starts_per_hour < 1) return "it must be allowed one start an hour at least";
  return "";
}

std::string_view words_of(Held why) {
  switch (why) {
  case Held::least_on: return "stays on for its least on-time";
  case Held::least_off: return "stays off for its least off-time";
  case Held::starts: return "stays off: it has started as often as it may within an hour";
  case Held::most_on: return "stays off: it has run for its longest on-time";
  case Held::others: return "waits until another of its group has started";
  }
  return "";
}

SwitchingStep next(const Switching& rule, SwitchingState state, Want want, Monotonic now) {
  assert(problem_of(rule).empty());
  assert(!state.since || now >= *state.since);
  if (state.on && !state.since) state.since = now; // on since nobody knows when: it counts from here
  if (!want.on) state.spent = false;
  if (state.on) return while_on(rule, state, want, now);
  if (!want.on) return {state};
  if (const auto hold = kept_off(rule, state, now); hold && !want.urgent) return {state, hold, false, hold->until};
  switch_to(rule, state, true, now);
  state.spent = false;
  return {
      state, {}, false, want.urgent || !rule.times.on_most ? std::nullopt : std::optional{now + *rule.times.on_most}};
}

} // namespace oxherd::control
