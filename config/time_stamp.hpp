#pragma once

#include <chrono>
#include <optional>
#include <string_view>

namespace oxherd::config {

using WallInstant = std::chrono::sys_time<std::chrono::milliseconds>;

/// Reads "2026-05-04T09:30:00+02:00", "2026-05-04 09:30:00.5Z"; the offset is required, digits beyond the millisecond
/// are cut off.
/// @source RFC 3339, section 5.6; leap seconds (":60") are refused
[[nodiscard]] std::optional<WallInstant> instant_of(std::string_view text);

} // namespace oxherd::config
