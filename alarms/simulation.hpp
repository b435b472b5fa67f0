#pragma once

#include <optional>

#include <tl/expected.hpp>

#include "alarms/annunciation.hpp"
#include "alarms/rules/delays.hpp"

namespace oxherd::alarms {

/// A test of one alarm: its condition is simulated for a time, through the alarm's own delays, so that annunciation,
/// outputs and messages can be seen to work. The rule goes on judging the real samples beneath, and a real condition
/// ends the test at once.
struct Simulation {
  Phase phase = Phase::clear;
  Monotonic since{0}; ///< of the phase
  Monotonic until{0}; ///< a test that nobody ends ends here
  friend bool operator==(const Simulation&, const Simulation&) = default;
};

/// Refused: a time that is no more than the on-delay or longer than `test_at_most`; while a test runs already; while
/// the alarm is not normal, since a test must not be mistaken for what stands there.
[[nodiscard]] tl::expected<Simulation, Refusal> begin_test(const Annunciation& a, const Delays& delays,
                                                           const Standing& standing, bool under_test,
                                                           Monotonic duration, Monotonic now);

} // namespace oxherd::alarms
