#include "alarms/rules/rate_of_fall.hpp"

#include <cmath>
#include <utility>

namespace oxherd::alarms {

namespace {

Reach reach_of_fall(const RateOfFall& rule, const std::optional<Slope>& slope) {
  if (!slope || !std::isfinite(slope->expanded)) return Reach::bad;
  const Reach reach = reach_of(rule.limit, {Quality::good, -slope->per_minute, slope->expanded});
  const bool significant = -slope->per_minute - slope->at_99 > 0.0;
  return reach == Reach::beyond_limit && !significant ? Reach::inside_deadband : reach;
}

} // namespace

Step<RateOfFallState> next(const RateOfFall& rule, RateOfFallState state, const RuleInput& in, Monotonic now) {
  follow(state.trend, in, Direction::low, rule.window);
  const Reach reach = reach_of_fall(rule, state.trend.slope);
  return held_against(rule.limit, std::move(state), reach, now);
}

RateOfFallState restored(const RateOfFall& rule, bool was_present, Monotonic now) {
  return {restored(rule.limit, was_present, now), {}};
}

Delays delays_of(const RateOfFall& rule) { return delays_of(rule.limit); }

std::optional<Channel> value_of(const RateOfFall&, const RateOfFallState& state, const RuleInput&) {
  const auto& slope = state.trend.slope;
  if (!slope || !std::isfinite(slope->expanded)) return std::nullopt;
  return Channel{Quality::good, -slope->per_minute, slope->expanded};
}

std::optional<double> limit_of(const RateOfFall& rule) { return rule.limit.limit; }

} // namespace oxherd::alarms
