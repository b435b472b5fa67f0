#pragma once

#include <optional>

#include "alarms/rules/delays.hpp"
#include "alarms/rules/step.hpp"

namespace oxherd::alarms {

/// A vote of the room goes on with fewer good channels than its scheme has.
struct Degraded {
  // Proposals of the project: long enough for a device that starts anew, and for one that comes and goes.
  Monotonic on_delay{std::chrono::seconds{30}};
  Monotonic off_delay{std::chrono::seconds{60}};
  /// Longest time without a lost channel back: after it the room is to count as not monitored. Proposal of the project.
  Monotonic permitted{std::chrono::hours{72}};
};

struct DegradedState {
  Phase phase = Phase::clear;
  Monotonic since{0};
  std::optional<Monotonic> degraded_since{}; ///< when the condition of now was decided; empty: it is not
  friend bool operator==(const DegradedState&, const DegradedState&) = default;
};

/// One step. A vote that is lost whole starts no degraded alarm, which the alarm that the room is not monitored covers,
/// but a degraded one stands through it: losing the rest mends nothing.
/// @checked tests/alarms/degraded_test.cpp
[[nodiscard]] Step<DegradedState> next(const Degraded& rule, DegradedState state, const RuleInput& in, Monotonic now);
/// The time permitted begins anew unless the caller knows how long the condition lasted and puts it in.
[[nodiscard]] DegradedState restored(const Degraded& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const Degraded& rule);
[[nodiscard]] std::optional<Channel> value_of(const Degraded& rule, const DegradedState& state,
                                              const RuleInput& in); ///< none
[[nodiscard]] std::optional<double> limit_of(const Degraded& rule); ///< none
/// Whether the condition has lasted as long as permitted, or longer.
[[nodiscard]] bool is_overdue(const Degraded& rule, const DegradedState& state, Monotonic now);

} // namespace oxherd::alarms
