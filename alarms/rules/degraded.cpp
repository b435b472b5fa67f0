#include "alarms/rules/degraded.hpp"

namespace oxherd::alarms {

Step<DegradedState> next(const Degraded& rule, DegradedState state, const RuleInput& in, Monotonic now) {
  Votes votes;
  votes.starts = in.vote_health == VoteHealth::degraded;
  votes.continues = votes.stands = in.vote_health != VoteHealth::full;
  const Delayed after = after_delays(delays_of(rule), state.phase, state.since, votes, now);
  if (after.decision == Decision::appears) state.degraded_since = now;
  if (after.decision == Decision::ends) state.degraded_since.reset();
  return {{after.phase, after.since, state.degraded_since}, after.decision};
}

DegradedState restored(const Degraded&, bool was_present, Monotonic now) {
  if (!was_present) return {Phase::clear, now};
  return {Phase::present, now, now};
}

Delays delays_of(const Degraded& rule) { return {rule.on_delay, rule.off_delay}; }
std::optional<Channel> value_of(const Degraded&, const DegradedState&, const RuleInput&) { return {}; }
std::optional<double> limit_of(const Degraded&) { return {}; }

bool is_overdue(const Degraded& rule, const DegradedState& state, Monotonic now) {
  return state.degraded_since && now - *state.degraded_since >= rule.permitted;
}

} // namespace oxherd::alarms
