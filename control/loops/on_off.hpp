#pragma once

#include <optional>
#include <string_view>

#include "control/duty.hpp"

namespace oxherd::control {

/// On/off control with a switching band. Distances are counted from the set-point towards the side on which the
/// actuator is needed: below the set-point for one that raises the value, above it for one that lowers it. The unit is
/// that of the value.
///
///     needed   ----- on_beyond -----> switches on here
///              ----- off_within ----> switches off here; zero is the set-point itself
///     not needed
///
/// The default switches off at the set-point and not beyond it: gas that is in the line, or not mixed yet, carries the
/// value on. Where that overshoots, off_within above zero stops earlier; below zero it drives across the set-point,
/// for heat and moisture that do not overshoot (`symmetric`). There is no default for on_beyond: it has a unit.
struct OnOff {
  Effect effect = Effect::raises;
  double on_beyond = 0.0;
  double off_within = 0.0;
};

/// The same distance on both sides of the set-point.
[[nodiscard]] OnOff symmetric(Effect effect, double half_band);

/// What is wrong with the parameters, as words behind their name; empty: nothing. `next` takes only such parameters.
[[nodiscard]] std::string_view problem_of(const OnOff& rule);

struct OnOffInput {
  std::optional<double> value; ///< empty: not known
  double set_point = 0.0;
};

struct OnOffState {
  bool on = false; ///< the last decision; it stands inside the band. Inside the band at the very start it is off
  friend bool operator==(const OnOffState&, const OnOffState&) = default;
};

struct OnOffStep {
  OnOffState state;
  std::optional<bool> wanted; ///< empty: there is no number to decide on, the safe state decides
};

/// One step. Both ends of the band switch. Without a finite value and set-point nothing is decided and the state stays.
/// It has no delays, so that it needs no time: `Switching` holds the least times.
/// @checked tests/control/loops/on_off_test.cpp
[[nodiscard]] OnOffStep next(const OnOff& rule, OnOffState state, const OnOffInput& in, Monotonic now);

} // namespace oxherd::control
