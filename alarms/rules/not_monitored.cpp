#include "alarms/rules/not_monitored.hpp"

#include "alarms/rules/delays.hpp"

namespace oxherd::alarms {

NotMonitoredStep next(const NotMonitored& rule, NotMonitoredState state, const RuleInput& in, Monotonic now) {
  const bool blind = !in.monitored;
  const Votes votes{.starts = blind, .continues = blind, .stands = blind};
  const Delayed after = after_delays({rule.on_delay, rule.off_delay}, state.phase, state.since, votes, now);
  return {{after.phase, after.since}, after.decision};
}

NotMonitoredState restored_not_monitored(bool was_present, Monotonic now) {
  return {was_present ? Phase::present : Phase::clear, now};
}

} // namespace oxherd::alarms
