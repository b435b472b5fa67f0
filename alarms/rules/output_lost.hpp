#pragma once

#include <optional>

#include "alarms/rules/delays.hpp"
#include "alarms/rules/step.hpp"

namespace oxherd::alarms {

/// An output of the room does not do what was decided, or nobody can tell whether it does. How long that may last is
/// known to each output, so that there is no delay here unless the settings ask for one.
struct OutputLost {
  Monotonic on_delay{0};
  Monotonic off_delay{0};
};

struct OutputLostState {
  Phase phase = Phase::clear;
  Monotonic since{0};
  friend bool operator==(const OutputLostState&, const OutputLostState&) = default;
};

/// One step. Outputs of which nothing is known yet start nothing and end nothing.
/// @checked tests/alarms/output_lost_test.cpp
[[nodiscard]] Step<OutputLostState> next(const OutputLost& rule, OutputLostState state, const RuleInput& in,
                                         Monotonic now);
[[nodiscard]] OutputLostState restored(const OutputLost& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const OutputLost& rule);
[[nodiscard]] std::optional<Channel> value_of(const OutputLost& rule, const OutputLostState& state,
                                              const RuleInput& in);   ///< none
[[nodiscard]] std::optional<double> limit_of(const OutputLost& rule); ///< none

} // namespace oxherd::alarms
