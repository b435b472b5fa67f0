#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "daemon/logfile/zone_rules.hpp"

namespace oxherd::daemon::logfile {

/// Where Debian's package tzdata puts the zones.
inline constexpr std::string_view zone_directory = "/usr/share/zoneinfo";

/// The rules of the zone with that IANA name, such as "Europe/Amsterdam".
/// @return a sentence that says what to write or install instead, for a recipe's problem
[[nodiscard]] tl::expected<std::shared_ptr<const ZoneRules>, std::string>
load_zone(std::string_view name, const std::filesystem::path& directory = zone_directory);

} // namespace oxherd::daemon::logfile
