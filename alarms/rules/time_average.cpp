#include "alarms/rules/time_average.hpp"

#include <algorithm>
#include <utility>

#include "alarms/rules/standing_value.hpp"

namespace oxherd::alarms {

namespace {

Monotonic width_of(const TimeAverage& rule) { return rule.over / average_buckets; }

/// Counts the value that was held from where the sums end to `now`.
void sum_up(const TimeAverage& rule, TimeAverageState& state, const Channel& held, Monotonic now) {
  const Monotonic width = width_of(rule);
  state.buckets.resize(average_buckets + 1); // one more than the window has: the oldest leaves it bit by bit
  Monotonic from = std::max(state.until, now - rule.over);
  while (from < now) {
    const std::int64_t number = from / width;
    const Monotonic to = std::min(now, width * (number + 1));
    const double dt_s = seconds_of(to - from);
    AverageBucket& bucket = state.buckets[static_cast<std::size_t>(number) % state.buckets.size()];
    if (bucket.number != number) bucket = {.number = number};
    bucket.known_s += dt_s;
    if (state.in_gap) bucket.gap_s += dt_s;
    bucket.value_s += dt_s * held.value;
    bucket.expanded_s += dt_s * held.expanded;
    from = to;
  }
}

Channel worse_of(Direction direction, const Channel& a, const Channel& b) {
  const double mirror = direction == Direction::low ? 1.0 : -1.0;
  return mirror * a.value - a.expanded < mirror * b.value - b.expanded ? a : b;
}

/// A gap has ended: it counts at the worse of its two sides from now on.
void close_gap(const TimeAverage& rule, TimeAverageState& state, const Channel& before, const Channel& after) {
  const Channel worse = worse_of(rule.limit.direction, before, after);
  for (auto& bucket : state.buckets) {
    bucket.value_s += bucket.gap_s * (worse.value - before.value);
    bucket.expanded_s += bucket.gap_s * (worse.expanded - before.expanded);
    bucket.gap_s = 0.0;
  }
  state.in_gap = false;
}

void take_in(const TimeAverage& rule, TimeAverageState& state, const std::optional<Channel>& standing, Monotonic now) {
  if (state.held && now > state.until) sum_up(rule, state, *state.held, now);
  state.until = now;
  if (!standing) {
    state.in_gap = state.held.has_value();
    return;
  }
  if (state.in_gap && state.held) close_gap(rule, state, *state.held, *standing);
  state.held = standing;
}

std::optional<Channel> average_of(const TimeAverage& rule, const TimeAverageState& state) {
  const Monotonic width = width_of(rule);
  const std::int64_t newest = state.until / width;
  const double oldest_s = seconds_of(width - state.until % width); // what is still in the window of the oldest bucket
  AverageBucket sum;
  for (const auto& bucket : state.buckets) {
    const std::int64_t age = newest - bucket.number;
    if (bucket.number < 0 || age > average_buckets) continue;
    // A bucket that was not filled whole was begun late: its end is what it has.
    const double weight = age == average_buckets ? std::min(1.0, oldest_s / bucket.known_s) : 1.0;
    sum.known_s += weight * bucket.known_s;
    sum.value_s += weight * bucket.value_s;
    sum.expanded_s += weight * bucket.expanded_s;
  }
  if (sum.known_s <= 0.0 || sum.known_s < average_known_min * seconds_of(rule.over)) return std::nullopt;
  return Channel{state.in_gap ? Quality::uncertain : Quality::good, sum.value_s / sum.known_s,
                 sum.expanded_s / sum.known_s, state.until};
}

Reach reach_of_average(const TimeAverage& rule, const TimeAverageState& state) {
  const auto average = average_of(rule, state);
  if (!average) return Reach::bad;
  const Reach reach = reach_of(rule.limit, *average);
  return state.in_gap && reach == Reach::clear ? Reach::bad : reach;
}

} // namespace

Step<TimeAverageState> next(const TimeAverage& rule, TimeAverageState state, const RuleInput& in, Monotonic now) {
  take_in(rule, state, standing_value(in.channels, rule.limit.direction), now);
  const Reach reach = reach_of_average(rule, state);
  return held_against(rule.limit, std::move(state), reach, now);
}

TimeAverageState restored(const TimeAverage& rule, bool was_present, Monotonic now) {
  TimeAverageState state{restored(rule.limit, was_present, now)};
  state.until = now;
  return state;
}

Delays delays_of(const TimeAverage& rule) { return delays_of(rule.limit); }

std::optional<Channel> value_of(const TimeAverage& rule, const TimeAverageState& state, const RuleInput&) {
  return average_of(rule, state);
}

std::optional<double> limit_of(const TimeAverage& rule) { return rule.limit.limit; }

} // namespace oxherd::alarms
