#pragma once

#include <optional>
#include <span>

#include "alarms/quality.hpp"
#include "alarms/time.hpp"
#include "alarms/voting.hpp"

namespace oxherd::alarms {

/// One channel as an alarm rule sees it, in the unit of the rule's limit. A value older than its permitted age is bad.
/// A value or an uncertainty that is not finite, and a negative uncertainty, count as bad whatever the quality says.
struct Channel {
  Quality quality = Quality::bad;
  double value = 0.0;
  double expanded = 0.0; ///< expanded uncertainty k u, never negative
  Monotonic taken{0};    ///< when it was sampled; rules that look at a course take each sample once
  bool awaited = false;  ///< bad only because its first sample is not due yet: no fault, and no vote to trip
  bool frozen = false;   ///< its input is stuck: beyond a limit it counts, elsewhere it is a fault
  friend bool operator==(const Channel&, const Channel&) = default;
};
/// Whether a rule may use the value: not bad, finite, with an uncertainty that can be one.
[[nodiscard]] bool is_usable(const Channel& channel);

/// How well the votes of a room are staffed, the worst of its groups that have more than one channel.
enum class VoteHealth {
  full,     ///< every channel is good, or no group has more than one
  degraded, ///< a channel is lost and the rest still vote
  lost      ///< too few are left to vote
};

/// What a rule is shown at one evaluation. Sample and clock tick alike call it; the last samples hold until the next,
/// so rules judge both in the same way. A delay that runs out just before a sample arrives is seen only if the clock
/// was let pass first: evaluate with the old samples at the same time, then with the new one.
struct RuleInput {
  std::span<const Channel> channels{}; ///< in a fixed order, never more than the scheme has; a missing one is faulted
  Scheme scheme = Scheme::one_of_one;
  bool monitored = true;   ///< for the not-monitored rule: every quantity that carries a safety alarm has its channels
  bool new_sample = false; ///< false when only the clock has moved
  VoteHealth vote_health = VoteHealth::full;
  /// False: a calibration lies between these values and those of the evaluation before, so no rate spans the two.
  bool continuous = true;
  std::optional<bool> door_open{}; ///< empty: the room has no such input, or it is lost
  /// False: a safety alarm leaves off judging, by the regime of its room. See evaluate().
  bool in_force = true;
  bool people_may_be_in = true; ///< see alarms/regime.hpp
  /// Whether every output of the room holds what it was told. Empty: not known yet, or there is none.
  std::optional<bool> outputs_confirmed{};
  bool control_tripped = false; ///< an actuator of the room waits to be released by a person
};

/// What the condition machine of a rule says after its delays.
enum class Decision { hold, appears, ends };

} // namespace oxherd::alarms
