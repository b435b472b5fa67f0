#pragma once

#include <chrono>

namespace oxherd::alarms {

/// Elapsed time on a clock that never steps, counted from any fixed start. Delays, ages and shelving run on it.
using Monotonic = std::chrono::milliseconds;

} // namespace oxherd::alarms
