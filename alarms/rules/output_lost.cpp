#include "alarms/rules/output_lost.hpp"

namespace oxherd::alarms {

Step<OutputLostState> next(const OutputLost& rule, OutputLostState state, const RuleInput& in, Monotonic now) {
  Votes votes;
  votes.starts = in.outputs_confirmed == false;
  votes.continues = votes.stands = in.outputs_confirmed != true;
  const Delayed after = after_delays(delays_of(rule), state.phase, state.since, votes, now);
  return {{after.phase, after.since}, after.decision};
}

OutputLostState restored(const OutputLost&, bool was_present, Monotonic now) {
  return {was_present ? Phase::present : Phase::clear, now};
}

Delays delays_of(const OutputLost& rule) { return {rule.on_delay, rule.off_delay}; }
std::optional<Channel> value_of(const OutputLost&, const OutputLostState&, const RuleInput&) { return {}; }
std::optional<double> limit_of(const OutputLost&) { return {}; }

} // namespace oxherd::alarms
