#pragma once

#include <string>
#include <string_view>

#include "alarms/annunciation.hpp"

namespace oxherd::alarms {

/// Whether any of the three suppressions lies over the alarm.
[[nodiscard]] bool is_suppressed(const Standing& standing);

/// "8 h", "1 h 30 min", "45.5 s": exact, so that two times that differ never read the same.
[[nodiscard]] std::string in_words(Monotonic duration);

/// Whether a reason or a comment says nothing.
[[nodiscard]] bool is_blank(std::string_view text);

/// Ends the shelving, if there is any.
[[nodiscard]] Standing end_shelving(Standing s, Monotonic now);

/// Ends the shelving and the time out of service that are over at `now`.
[[nodiscard]] Standing end_expired_suppressions(Standing s, Monotonic now);

} // namespace oxherd::alarms
