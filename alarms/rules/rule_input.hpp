#pragma once

#include <span>
#include <string>

#include "alarms/quality.hpp"
#include "alarms/voting.hpp"

namespace oxherd::alarms {

/// One channel as an alarm rule sees it, in the unit of the rule's limit. A value older than its permitted age is bad.
struct Channel {
  Quality quality = Quality::bad;
  double value = 0.0;
  double expanded = 0.0; ///< expanded uncertainty k u, never negative
};

/// What a rule is shown at one evaluation. Sample and clock tick alike call it; the last samples hold until the next.
struct RuleInput {
  std::span<const Channel> channels;
  Scheme scheme = Scheme::one_of_one;
  bool monitored = true;   ///< for the not-monitored rule: every quantity that carries a safety alarm has its channels
  bool new_sample = false; ///< false when only the clock has moved
};

/// What the condition machine of a rule says after its delays.
enum class Decision { hold, appears, ends };

} // namespace oxherd::alarms
