#pragma once

#include "alarms/rules/limit.hpp"
#include "alarms/rules/trend.hpp"

namespace oxherd::alarms {

/// A limit will be reached soon if the standing value goes on as it does. The number is the time until then in minutes,
/// held against a low limit through the deadband and delays of that one, which are in minutes too.
struct TimeToLimit {
  Limit limit{.direction = Direction::low};   ///< in minutes
  Direction approached_from = Direction::low; ///< low: the value falls to what it must not reach
  double reached = 0.0;                       ///< the limit that is forecast, in the unit of the value
  Monotonic window{std::chrono::seconds{60}};
};

struct TimeToLimitState : LimitState {
  Trend trend{};
  friend bool operator==(const TimeToLimitState&, const TimeToLimitState&) = default;
};

/// One step. The forecast takes the unfavourable end of the value and of its rate; the time from the values themselves
/// is what people are shown. It counts only when the approach is significant: the 99 % interval of the rate must
/// exclude "no approach". One that is not starts no on-delay, and ends nothing that its unfavourable end would not end.
/// A value whose unfavourable end is beyond the limit has no time left, whatever its rate. Without a rate (the window
/// fills, bad samples, a calibration) the decision is held.
/// @checked tests/alarms/time_to_limit_test.cpp
[[nodiscard]] Step<TimeToLimitState> next(const TimeToLimit& rule, TimeToLimitState state, const RuleInput& in,
                                          Monotonic now);
[[nodiscard]] TimeToLimitState restored(const TimeToLimit& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const TimeToLimit& rule);
/// Minutes, with the unfavourable end at value - expanded; none while there is no rate or no approach.
[[nodiscard]] std::optional<Channel> value_of(const TimeToLimit& rule, const TimeToLimitState& state,
                                              const RuleInput& in);
[[nodiscard]] std::optional<double> limit_of(const TimeToLimit& rule); ///< in minutes

} // namespace oxherd::alarms
