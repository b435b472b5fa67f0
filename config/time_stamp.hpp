#pragma once

#include <chrono>
#include <optional>
#include <string_view>

namespace oxherd::config {

using WallInstant = std::chrono::sys_time<std::chrono::milliseconds>;

/// What to make of a second of 60: it stands at the end of a UTC day and has no instant of its own in POSIX time.
enum class LeapSecond { refused, next_minute };

/// Reads "2026-05-04T09:30:00+02:00", "2026-05-04 09:30:00.5Z"; the offset is required, digits beyond the millisecond
/// are cut off.
/// @source RFC 3339, sections 5.6 and 5.7
[[nodiscard]] std::optional<WallInstant> instant_of(std::string_view text, LeapSecond leap = LeapSecond::refused);

/// Reads "2026-05-04".
[[nodiscard]] std::optional<std::chrono::sys_days> day_of(std::string_view text);

} // namespace oxherd::config
