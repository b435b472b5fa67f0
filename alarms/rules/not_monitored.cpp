#include "alarms/rules/not_monitored.hpp"

namespace oxherd::alarms {

Step<NotMonitoredState> next(const NotMonitored& rule, NotMonitoredState state, const RuleInput& in, Monotonic now) {
  const bool blind = !in.monitored;
  const Votes votes{.starts = blind, .continues = blind, .stands = blind};
  Delays delays = delays_of(rule);
  if (!in.people_may_be_in) delays.on = rule.on_delay_unattended.value_or(delays.on);
  const Delayed after = after_delays(delays, state.phase, state.since, votes, now);
  return {{after.phase, after.since}, after.decision};
}

NotMonitoredState restored(const NotMonitored&, bool was_present, Monotonic now) {
  return {was_present ? Phase::present : Phase::clear, now};
}

Delays delays_of(const NotMonitored& rule) { return {rule.on_delay, rule.off_delay}; }
std::optional<Channel> value_of(const NotMonitored&, const NotMonitoredState&, const RuleInput&) { return {}; }
std::optional<double> limit_of(const NotMonitored&) { return {}; }

} // namespace oxherd::alarms
