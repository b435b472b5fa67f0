#pragma once

#include <chrono>

namespace oxherd::alarms {

/// Elapsed time on a clock that never steps, counted from any fixed start. Delays, ages and shelving run on it.
using Monotonic = std::chrono::milliseconds;

/// The same time as a number of seconds.
[[nodiscard]] constexpr double seconds_of(std::chrono::milliseconds time) {
  return std::chrono::duration<double>{time}.count();
}

} // namespace oxherd::alarms
