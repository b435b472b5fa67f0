#pragma once

#include <span>

#include "alarms/quality.hpp"
#include "alarms/voting.hpp"

namespace oxherd::alarms {

/// One channel as an alarm rule sees it, in the unit of the rule's limit. A value older than its permitted age is bad.
/// A value or an uncertainty that is not finite, and a negative uncertainty, count as bad whatever the quality says.
struct Channel {
  Quality quality = Quality::bad;
  double value = 0.0;
  double expanded = 0.0; ///< expanded uncertainty k u, never negative
};

/// What a rule is shown at one evaluation. Sample and clock tick alike call it; the last samples hold until the next,
/// so rules judge both in the same way. A delay that runs out just before a sample arrives is seen only if the clock
/// was let pass first: evaluate with the old samples at the same time, then with the new one.
struct RuleInput {
  std::span<const Channel> channels; ///< in a fixed order, never more than the scheme has; a missing one is faulted
  Scheme scheme = Scheme::one_of_one;
  bool monitored = true;   ///< for the not-monitored rule: every quantity that carries a safety alarm has its channels
  bool new_sample = false; ///< false when only the clock has moved
};

/// What the condition machine of a rule says after its delays.
enum class Decision { hold, appears, ends };

} // namespace oxherd::alarms
