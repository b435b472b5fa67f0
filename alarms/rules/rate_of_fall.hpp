#pragma once

#include "alarms/rules/limit.hpp"
#include "alarms/rules/trend.hpp"

namespace oxherd::alarms {

/// The standing value falls fast. The number is its fall per minute over one full window, held against a high limit
/// through the deadband and delays of that limit; limit and deadband are per minute.
struct RateOfFall {
  Limit limit{.direction = Direction::high};
  Monotonic window{std::chrono::seconds{60}};
};

struct RateOfFallState : LimitState {
  Trend trend;
  friend bool operator==(const RateOfFallState&, const RateOfFallState&) = default;
};

/// One step. A fall counts as beyond the limit at the unfavourable end of its interval, as every limit, but only when
/// it is significant: its 99 % interval must exclude "no fall". One that is not starts and continues no on-delay, yet a
/// decided condition ends only when the unfavourable end is clear of limit and deadband. Without a rate (the window
/// fills, bad samples, a calibration) the decision is held.
/// @checked tests/alarms/rate_of_fall_test.cpp
[[nodiscard]] Step<RateOfFallState> next(const RateOfFall& rule, RateOfFallState state, const RuleInput& in,
                                         Monotonic now);
/// The window fills anew after a restart.
[[nodiscard]] RateOfFallState restored(const RateOfFall& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const RateOfFall& rule);
[[nodiscard]] std::optional<Channel> value_of(const RateOfFall& rule, const RateOfFallState& state,
                                              const RuleInput& in); ///< per minute; a fall is positive
[[nodiscard]] std::optional<double> limit_of(const RateOfFall& rule);

} // namespace oxherd::alarms
