#include "alarms/rules/time_to_limit.hpp"

#include <cmath>
#include <limits>
#include <utility>

namespace oxherd::alarms {

namespace {

constexpr double never = std::numeric_limits<double>::infinity();

/// Minutes until a distance is used up at this speed per minute.
double minutes_left(double distance, double speed) {
  if (distance <= 0.0) return 0.0;
  return speed > 0.0 ? distance / speed : never;
}

struct Forecast {
  double minutes = never;  ///< from the values themselves
  double earliest = never; ///< from their unfavourable ends
  bool significant = false;
};

std::optional<Forecast> forecast(const TimeToLimit& rule, const Trend& trend, std::span<const Channel> channels) {
  const auto standing = standing_value(channels, rule.approached_from);
  if (!standing || !trend.slope || !std::isfinite(trend.slope->expanded)) return std::nullopt;
  // An approach from above is one from below on the mirrored axis.
  const double mirror = rule.approached_from == Direction::low ? 1.0 : -1.0;
  const double distance = mirror * (standing->value - rule.reached);
  const double speed = -mirror * trend.slope->per_minute;
  Forecast f;
  f.minutes = minutes_left(distance, speed);
  f.earliest = minutes_left(distance - standing->expanded, speed + trend.slope->expanded);
  f.significant = speed > trend.slope->at_99 || distance <= standing->expanded;
  return f;
}

Reach reach_of_forecast(const TimeToLimit& rule, const std::optional<Forecast>& f) {
  if (!f) return Reach::bad;
  if (!std::isfinite(f->earliest)) return Reach::clear;
  const Reach reach = reach_of(rule.limit, {Quality::good, f->earliest, 0.0});
  return reach == Reach::beyond_limit && !f->significant ? Reach::inside_deadband : reach;
}

} // namespace

Step<TimeToLimitState> next(const TimeToLimit& rule, TimeToLimitState state, const RuleInput& in, Monotonic now) {
  follow(state.trend, in, rule.approached_from, rule.window);
  const Reach reach = reach_of_forecast(rule, forecast(rule, state.trend, in.channels));
  return held_against(rule.limit, std::move(state), reach, now);
}

TimeToLimitState restored(const TimeToLimit& rule, bool was_present, Monotonic now) {
  return {restored(rule.limit, was_present, now)};
}

Delays delays_of(const TimeToLimit& rule) { return delays_of(rule.limit); }

std::optional<Channel> value_of(const TimeToLimit& rule, const TimeToLimitState& state, const RuleInput& in) {
  const auto f = forecast(rule, state.trend, in.channels);
  if (!f || !std::isfinite(f->minutes)) return std::nullopt;
  return Channel{Quality::good, f->minutes, f->minutes - f->earliest};
}

std::optional<double> limit_of(const TimeToLimit& rule) { return rule.limit.limit; }

} // namespace oxherd::alarms
