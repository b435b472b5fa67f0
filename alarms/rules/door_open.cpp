#include "alarms/rules/door_open.hpp"

namespace oxherd::alarms {

Step<DoorOpenState> next(const DoorOpen& rule, DoorOpenState state, const RuleInput& in, Monotonic now) {
  Votes votes;
  votes.starts = in.door_open == true;
  votes.continues = votes.stands = in.door_open != false;
  const Delayed after = after_delays(delays_of(rule), state.phase, state.since, votes, now);
  return {{after.phase, after.since}, after.decision};
}

DoorOpenState restored(const DoorOpen&, bool was_present, Monotonic now) {
  return {was_present ? Phase::present : Phase::clear, now};
}

Delays delays_of(const DoorOpen& rule) { return {rule.on_delay, rule.off_delay}; }
std::optional<Channel> value_of(const DoorOpen&, const DoorOpenState&, const RuleInput&) { return {}; }
std::optional<double> limit_of(const DoorOpen&) { return {}; }

} // namespace oxherd::alarms
