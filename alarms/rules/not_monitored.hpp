#pragma once

#include <optional>

#include "alarms/rules/delays.hpp"
#include "alarms/rules/step.hpp"

namespace oxherd::alarms {

/// The room is not being monitored: fewer good channels than the vote needs, stale samples, or an uncertainty too wide
/// to judge by. An alarm of its own, with its own delays.
struct NotMonitored {
  Monotonic on_delay{std::chrono::seconds{10}};
  Monotonic off_delay{std::chrono::seconds{5}};
  std::optional<Monotonic> on_delay_unattended{}; ///< in its place while nobody can be in the room
};

struct NotMonitoredState {
  Phase phase = Phase::clear;
  Monotonic since{0};
  friend bool operator==(const NotMonitoredState&, const NotMonitoredState&) = default;
};

/// One step. Looks at `monitored` alone: whoever fills it in knows all quantities of the room. The room must be
/// unmonitored without a break for on_delay, and monitored without a break for off_delay.
[[nodiscard]] Step<NotMonitoredState> next(const NotMonitored& rule, NotMonitoredState state, const RuleInput& in,
                                           Monotonic now);
[[nodiscard]] NotMonitoredState restored(const NotMonitored& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const NotMonitored& rule);
[[nodiscard]] std::optional<Channel> value_of(const NotMonitored& rule, const NotMonitoredState& state,
                                              const RuleInput& in);     ///< none
[[nodiscard]] std::optional<double> limit_of(const NotMonitored& rule); ///< none

} // namespace oxherd::alarms
