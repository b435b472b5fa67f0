#pragma once

#include "alarms/rules/rule_input.hpp"
#include "alarms/time.hpp"

namespace oxherd::alarms {

/// The on-delay and the off-delay, shared by every rule: from what the vote says now to a decided condition.
struct Delays {
  Monotonic on{0};
  Monotonic off{0};
};

/// Phases of the decided condition (delays are ours; the annunciation states lie above this).
enum class Phase {
  clear,    ///< not decided; ended by a vote to trip
  pending,  ///< the on-delay runs; ended by its end (to present) or by good samples that vote no (to clear)
  present,  ///< decided; ended by good samples that vote for clear
  returning ///< decided still, the off-delay runs; ended by its end (to clear) or by anything else (to present)
};

/// Whether the condition is decided in this phase.
[[nodiscard]] constexpr bool is_decided(Phase phase) { return phase == Phase::present || phase == Phase::returning; }

/// What the vote of this evaluation allows.
struct Votes {
  bool starts = false;    ///< an on-delay may start
  bool continues = false; ///< a running on-delay goes on; true whenever `starts` is
  bool stands = false;    ///< a decided condition stands; false only for good samples beyond the deadband
};

struct Delayed {
  Phase phase = Phase::clear;
  Monotonic since{0};
  Decision decision = Decision::hold;
};

/// One step of the delays. Called twice with the same votes and time it changes nothing the second time.
[[nodiscard]] Delayed after_delays(const Delays& delays, Phase phase, Monotonic since, const Votes& votes,
                                   Monotonic now);

} // namespace oxherd::alarms
