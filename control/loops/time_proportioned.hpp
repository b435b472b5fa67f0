#pragma once

#include <optional>
#include <string_view>

#include "control/duty.hpp"

namespace oxherd::control {

/// Turns a duty of 0 to 1 into one pulse a cycle, at its beginning.
struct TimeProportioned {
  /// Common practice is 2 to 10 min: short against the room, long against the least times.
  Monotonic cycle{std::chrono::minutes{5}};
  Monotonic on_least{0};  ///< a shorter pulse is left out, and given with a later one
  Monotonic off_least{0}; ///< a shorter gap is left out, and made up for by a later one
};

/// What is wrong with the parameters, as words; empty: nothing. `next` takes only such parameters.
[[nodiscard]] std::string_view problem_of(const TimeProportioned& rule);

struct TimeProportionedState {
  bool on = false;
  Monotonic since{0};                   ///< when it was last switched
  std::optional<Monotonic> cycle_began; ///< empty: not called yet
  Monotonic last{0};                    ///< the last call
  double duty = 0.0;                    ///< in force: the least one asked for since the cycle began
  double owed_s = 0.0;                  ///< on-time that was asked for less what was given; may be negative
  double owed_at_beginning_s = 0.0;     ///< of the cycle
  friend bool operator==(const TimeProportionedState&, const TimeProportionedState&) = default;
};

struct TimeProportionedStep {
  TimeProportionedState state;
  bool on = false;
};

/// One step; to be called often against the least times, for it switches at calls only.
///
/// The duty is taken at the beginning of a cycle. One that falls counts at once and cuts a running pulse short (though
/// not below on_least); one that rises waits for the next cycle, so that a cycle never has two pulses.
///
/// On-time asked for and given are both counted as they pass, and the difference goes into the next pulse. So pulses
/// and gaps that are left out, and calls that come late, change nothing of the mean: at the end of any cycle of a duty
/// that is steady or changes between cycles, no more than on_least is owed, no more than off_least was given too much,
/// and one interval between calls each. A duty of exactly 0 begins no pulse and one of exactly 1 no gap.
/// A new cycle waits until off_least has passed. After a pause of more than a cycle everything begins anew.
/// @param duty  0 to 1
/// @checked tests/control/loops/time_proportioned_test.cpp
[[nodiscard]] TimeProportionedStep next(const TimeProportioned& rule, TimeProportionedState state, double duty,
                                        Monotonic now);

} // namespace oxherd::control
