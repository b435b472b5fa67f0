#pragma once

#include <optional>
#include <variant>

#include "alarms/rules/control_tripped.hpp"
#include "alarms/rules/degraded.hpp"
#include "alarms/rules/delays.hpp"
#include "alarms/rules/deviation.hpp"
#include "alarms/rules/disagreement.hpp"
#include "alarms/rules/door_open.hpp"
#include "alarms/rules/limit.hpp"
#include "alarms/rules/not_monitored.hpp"
#include "alarms/rules/output_lost.hpp"
#include "alarms/rules/rate_of_fall.hpp"
#include "alarms/rules/time_average.hpp"
#include "alarms/rules/time_to_limit.hpp"

namespace oxherd::alarms {

/// Every kind of rule; adding one adds a header here, an alternative to each of the two, and a row in catalogue.cpp.
/// A kind K with its state S brings
///   Step<S> next(const K&, S, const RuleInput&, Monotonic)          one evaluation
///   S restored(const K&, bool was_present, Monotonic)               the state at the start and after a restart
///   Delays delays_of(const K&)
///   std::optional<Channel> value_of(const K&, const S&, const RuleInput&)   the number that is held against the limit
///   std::optional<double> limit_of(const K&)
/// and S has a Phase named `phase`.
using Rule = std::variant<Limit, NotMonitored, RateOfFall, TimeAverage, Disagreement, Degraded, TimeToLimit, Deviation,
                          DoorOpen, OutputLost, ControlTripped>;
using RuleState =
    std::variant<LimitState, NotMonitoredState, RateOfFallState, TimeAverageState, DisagreementState, DegradedState,
                 TimeToLimitState, DeviationState, DoorOpenState, OutputLostState, ControlTrippedState>;

/// One evaluation; `state` must be of the rule's own kind, as restored() makes it.
void advance(const Rule& rule, RuleState& state, const RuleInput& in, Monotonic now);
/// The state after a restart: present stays present until good samples outlast the off-delay, pending starts afresh.
[[nodiscard]] RuleState restored(const Rule& rule, bool was_present, Monotonic now);
/// Whether the condition is decided, after its delays.
[[nodiscard]] bool is_decided(const RuleState& state);
[[nodiscard]] Delays delays_of(const Rule& rule);
/// The number that the rule holds against its limit, in the limit's unit; nothing when there is none now.
[[nodiscard]] std::optional<Channel> value_of(const Rule& rule, const RuleState& state, const RuleInput& in);
[[nodiscard]] std::optional<double> limit_of(const Rule& rule);
/// The limit that the rule's number is held against, with its deadband and direction; null for a rule without a number.
[[nodiscard]] const Limit* limit_in(const Rule& rule);

/// Takes over what takes hours to know, from a rule that goes on with the same window: the sums of an average, and how
/// long a vote has been degraded. For a state on the same clock.
void keep_sums(const Rule& rule, RuleState& state, const Rule& before, const RuleState& state_before);
/// Whether a degraded vote has lasted longer than permitted; false for every other rule.
[[nodiscard]] bool is_overdue(const Rule& rule, const RuleState& state, Monotonic now);

} // namespace oxherd::alarms
