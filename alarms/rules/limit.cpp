#include "alarms/rules/limit.hpp"

#include <cassert>

namespace oxherd::alarms {

namespace {

using Reaches = std::array<Reach, channels_max>;

/// What to make of a bad channel: a fault for the scheme to deal with, or the decision it had before.
enum class BadCountsAs { fault, last_decision };

/// Three questions put to all channels: who is beyond the limit now, who is tripped by its own decision, and who is not
/// beyond the deadband, so that a condition already decided may not clear.
struct Count {
  Ballot beyond, tripped, not_clear;
};

void cast(Ballot& ballot, bool yes) { (yes ? ballot.yes : ballot.no) += 1; }

Count count(Scheme scheme, const Reaches& reach, const std::array<bool, 3>& tripped, BadCountsAs bad) {
  Count count;
  for (std::size_t i = 0; i < static_cast<std::size_t>(channels_of(scheme)); ++i) {
    if (reach[i] == Reach::bad && bad == BadCountsAs::fault) {
      for (Ballot* ballot : {&count.beyond, &count.tripped, &count.not_clear}) ++ballot->faulted;
      continue;
    }
    cast(count.beyond, reach[i] == Reach::beyond_limit || (reach[i] == Reach::bad && tripped[i]));
    cast(count.tripped, tripped[i]);
    cast(count.not_clear, tripped[i] || reach[i] == Reach::inside_deadband || reach[i] == Reach::awaited);
  }
  return count;
}

/// A channel inside its deadband supports another one that is beyond the limit, but holds no trip alone.
bool trips(Scheme scheme, const Count& count) {
  if (vote(scheme, count.beyond) == Verdict::yes) return true;
  return count.beyond.yes > 0 && vote(scheme, count.tripped) == Verdict::yes;
}

/// One step from where every channel of the scheme lies.
Step<LimitState> next_of(const Limit& rule, LimitState state, Scheme scheme, const Reaches& reach, Monotonic now) {
  for (std::size_t i = 0; i < reach.size(); ++i) {
    if (reach[i] == Reach::beyond_limit) state.tripped[i] = true;
    if (reach[i] == Reach::clear) state.tripped[i] = false;
  }
  const Count faults = count(scheme, reach, state.tripped, BadCountsAs::fault);
  const Count held = count(scheme, reach, state.tripped, BadCountsAs::last_decision);
  Votes votes;
  votes.starts = trips(scheme, faults);
  votes.continues = votes.starts || trips(scheme, held);
  votes.stands = vote(scheme, faults.not_clear) != Verdict::no || vote(scheme, held.not_clear) == Verdict::yes;
  const Delayed after = after_delays(delays_of(rule), state.phase, state.since, votes, now);
  return {{after.phase, after.since, state.tripped}, after.decision};
}

} // namespace

Reach reach_of(const Limit& rule, const Channel& channel) {
  if (!is_usable(channel)) return channel.awaited ? Reach::awaited : Reach::bad;
  // A high limit is a low limit on the mirrored axis; changing the sign of a double loses nothing.
  const double mirror = rule.direction == Direction::low ? 1.0 : -1.0;
  const double effective = mirror * channel.value - channel.expanded;
  if (effective <= mirror * rule.limit) return Reach::beyond_limit;
  if (channel.frozen) return Reach::bad; // it may be anything by now
  return effective > mirror * rule.limit + rule.deadband ? Reach::clear : Reach::inside_deadband;
}

Step<LimitState> next(const Limit& rule, LimitState state, const RuleInput& in, Monotonic now) {
  assert(in.channels.size() <= static_cast<std::size_t>(channels_of(in.scheme)));
  Reaches reach{Reach::bad, Reach::bad, Reach::bad}; // a channel that is not there is a faulted one
  for (std::size_t i = 0; i < in.channels.size(); ++i) reach[i] = reach_of(rule, in.channels[i]);
  return next_of(rule, state, in.scheme, reach, now);
}

Step<LimitState> next_placed(const Limit& rule, LimitState state, Reach reach, Monotonic now) {
  return next_of(rule, state, Scheme::one_of_one, {reach, Reach::bad, Reach::bad}, now);
}

LimitState restored(const Limit&, bool was_present, Monotonic now) {
  if (!was_present) return {Phase::clear, now, {}};
  return {Phase::present, now, {true, true, true}};
}

Delays delays_of(const Limit& rule) { return {rule.on_delay, rule.off_delay}; }

std::optional<Channel> value_of(const Limit& rule, const LimitState&, const RuleInput& in) {
  return standing_value(in.channels, rule.direction);
}

std::optional<double> limit_of(const Limit& rule) { return rule.limit; }

} // namespace oxherd::alarms
