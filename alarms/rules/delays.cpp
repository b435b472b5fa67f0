#include "alarms/rules/delays.hpp"

#include <cstdlib>

namespace oxherd::alarms {

Delayed after_delays(const Delays& delays, Phase phase, Monotonic since, const Votes& votes, Monotonic now) {
  switch (phase) { // no default: a new phase must not compile until it is handled here
  case Phase::clear:
    if (!votes.starts) return {phase, since, Decision::hold};
    since = now;
    [[fallthrough]]; // a delay of zero acts in this very step
  case Phase::pending:
    if (!votes.continues) return {Phase::clear, now, Decision::hold};
    if (now - since < delays.on) return {Phase::pending, since, Decision::hold};
    return {Phase::present, now, Decision::appears};
  case Phase::present:
    if (votes.stands) return {phase, since, Decision::hold};
    since = now;
    [[fallthrough]];
  case Phase::returning:
    if (votes.stands) return {Phase::present, now, Decision::hold};
    if (now - since < delays.off) return {Phase::returning, since, Decision::hold};
    return {Phase::clear, now, Decision::ends};
  }
  std::abort(); // not one of the phases: memory is corrupt, stop loudly
}

} // namespace oxherd::alarms
