#pragma once

#include "alarms/annunciation.hpp"

namespace oxherd::alarms {

/// Whether any of the three suppressions lies over the alarm.
[[nodiscard]] bool is_suppressed(const Standing& standing);

/// Ends the shelving and the time out of service that are over at `now`.
[[nodiscard]] Standing end_expired_suppressions(Standing s, Monotonic now);

} // namespace oxherd::alarms
