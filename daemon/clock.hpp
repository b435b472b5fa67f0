#pragma once

#include "alarms/time.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon {

/// The machine's monotonic clock. Delays, ages and schedules run on it.
[[nodiscard]] inline alarms::Monotonic monotonic_now() {
  return std::chrono::duration_cast<alarms::Monotonic>(std::chrono::steady_clock::now().time_since_epoch());
}

/// Civil time, for records only.
[[nodiscard]] inline WallTime wall_now() {
  return std::chrono::time_point_cast<std::chrono::milliseconds>(std::chrono::system_clock::now());
}

} // namespace oxherd::daemon
