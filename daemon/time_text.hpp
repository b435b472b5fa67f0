#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "daemon/records.hpp"

namespace oxherd::daemon {

/// RFC 3339 in UTC with milliseconds: 2026-03-01T08:15:30.250Z.
[[nodiscard]] std::string rfc3339(WallTime t);
/// The same instant in the machine's time zone with its offset, to the second.
[[nodiscard]] std::string rfc3339_local(WallTime t);
/// Reads RFC 3339 with any offset ("Z", "+02:00"); a second of 60 is taken as the next minute's 0.
[[nodiscard]] std::optional<WallTime> parse_rfc3339(std::string_view text);

} // namespace oxherd::daemon
