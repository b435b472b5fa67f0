#pragma once

#include "alarms/rules/limit.hpp"

namespace oxherd::alarms {

/// A quantity is away from its set point, to either side. Each channel's distance is held against a high limit and
/// voted on, as values are.
struct Deviation {
  Limit limit{.direction = Direction::high}; ///< of the distance
  double set_point = 0.0;                    ///< in the unit of the value
};

struct DeviationState : LimitState {
  friend bool operator==(const DeviationState&, const DeviationState&) = default;
};

/// @checked tests/alarms/deviation_test.cpp
[[nodiscard]] Step<DeviationState> next(const Deviation& rule, DeviationState state, const RuleInput& in,
                                        Monotonic now);
[[nodiscard]] DeviationState restored(const Deviation& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const Deviation& rule);
[[nodiscard]] std::optional<Channel> value_of(const Deviation& rule, const DeviationState& state,
                                              const RuleInput& in); ///< the distance, never negative
[[nodiscard]] std::optional<double> limit_of(const Deviation& rule);

} // namespace oxherd::alarms
