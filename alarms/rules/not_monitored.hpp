#pragma once

#include "alarms/rules/limit.hpp"

namespace oxherd::alarms {

/// The room is not being monitored: fewer good channels than the vote needs, stale samples, or an uncertainty too wide
/// to judge by. An alarm of its own, with its own delays.
struct NotMonitored {
  Monotonic on_delay{std::chrono::seconds{10}};
  Monotonic off_delay{std::chrono::seconds{5}};
};

struct NotMonitoredState {
  Phase phase = Phase::clear;
  Monotonic since{0};
  friend bool operator==(const NotMonitoredState&, const NotMonitoredState&) = default;
};

struct NotMonitoredStep {
  NotMonitoredState state;
  Decision decision = Decision::hold;
};

/// One step. Looks at `monitored` alone: whoever fills it in knows all quantities of the room. The room must be
/// unmonitored without a break for on_delay, and monitored without a break for off_delay.
[[nodiscard]] NotMonitoredStep next(const NotMonitored& rule, NotMonitoredState state, const RuleInput& in,
                                    Monotonic now);

/// The state after a restart; as for a limit.
[[nodiscard]] NotMonitoredState restored_not_monitored(bool was_present, Monotonic now);

} // namespace oxherd::alarms
