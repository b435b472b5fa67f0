#pragma once

#include "alarms/rules/limit.hpp"

namespace oxherd::alarms {

/// The channels of a group disagree: the largest good value less the smallest reaches a limit, and is real.
struct Disagreement {
  Limit limit{.direction = Direction::high};
};

struct DisagreementState : LimitState {
  friend bool operator==(const DisagreementState&, const DisagreementState&) = default;
};

/// One step. The spread itself is held against the limit, without a guard band, and counts only when it is larger than
/// the expanded uncertainties of its two channels together, sqrt(U1^2 + U2^2). A guard band on the unfavourable side
/// would make two honest cells that agree perfectly an alarm; this alarm says that one of them is wrong, so the doubt
/// goes to the cells. Nothing is hidden by that: the lower cell goes on to trip its own limits. Cells share weather,
/// calibration gas and thermometer, so the bound is rather too wide than too narrow. A spread that the uncertainties
/// can explain starts no on-delay and ends nothing above limit - deadband. Fewer than two good channels hold the
/// decision.
/// @checked tests/alarms/disagreement_test.cpp
[[nodiscard]] Step<DisagreementState> next(const Disagreement& rule, DisagreementState state, const RuleInput& in,
                                           Monotonic now);
[[nodiscard]] DisagreementState restored(const Disagreement& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const Disagreement& rule);
[[nodiscard]] std::optional<Channel> value_of(const Disagreement& rule, const DisagreementState& state,
                                              const RuleInput& in); ///< the spread with its combined uncertainty
[[nodiscard]] std::optional<double> limit_of(const Disagreement& rule);

} // namespace oxherd::alarms
