#include "alarms/rules/control_tripped.hpp"

namespace oxherd::alarms {

Step<ControlTrippedState> next(const ControlTripped& rule, ControlTrippedState state, const RuleInput& in,
                               Monotonic now) {
  Votes votes;
  votes.starts = votes.continues = votes.stands = in.control_tripped;
  const Delayed after = after_delays(delays_of(rule), state.phase, state.since, votes, now);
  return {{after.phase, after.since}, after.decision};
}

ControlTrippedState restored(const ControlTripped&, bool was_present, Monotonic now) {
  return {was_present ? Phase::present : Phase::clear, now};
}

Delays delays_of(const ControlTripped& rule) { return {rule.on_delay, rule.off_delay}; }
std::optional<Channel> value_of(const ControlTripped&, const ControlTrippedState&, const RuleInput&) { return {}; }
std::optional<double> limit_of(const ControlTripped&) { return {}; }

} // namespace oxherd::alarms
