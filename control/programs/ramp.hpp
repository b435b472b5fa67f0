#pragma once

#include <optional>

#include "alarms/time.hpp"

namespace oxherd::control {

using alarms::Monotonic;

/// How a set-point goes to a new target. When both are given the slower one holds; with neither it jumps.
/// Rates are in the unit of the set-point an hour, and without sign.
struct Ramp {
  Monotonic over{0};                ///< the whole way takes so long
  std::optional<double> most_per_h; ///< above zero
};

/// The time that the way takes, rounded up to whole milliseconds so that no rate is exceeded; ten years at most.
[[nodiscard]] Monotonic time_of(const Ramp& ramp, double from, double target);

/// The same ramp, no faster than this.
[[nodiscard]] Ramp no_faster(Ramp ramp, std::optional<double> most_per_h);

/// Where a set-point on its way is.
struct Motion {
  double value = 0.0;
  double rate_per_h = 0.0; ///< with its sign; zero when it stands
  Monotonic left{0};       ///< until it is at its target
};
/// @param since  the time since it left `from`
[[nodiscard]] Motion motion_at(const Ramp& ramp, double from, double target, Monotonic since);

/// A set-point that goes to its target, wherever that moves to, and never faster than this.
[[nodiscard]] double moved(double from, double target, double most_per_h, Monotonic elapsed);

} // namespace oxherd::control
