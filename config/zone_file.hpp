#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "config/zone_rules.hpp"

namespace oxherd::config {

/// Where Debian's package tzdata puts the zones.
inline constexpr std::string_view zone_directory = "/usr/share/zoneinfo";

/// The rules of the zone with that IANA name, such as "Europe/Amsterdam", where an offset could stand as well.
/// @return a sentence that says what to write or install instead, for a recipe's problem
[[nodiscard]] tl::expected<std::shared_ptr<const ZoneRules>, std::string>
load_zone(std::string_view name, const std::filesystem::path& directory = zone_directory);

/// The same where no offset can stand in its place, with a sentence for the settings.
[[nodiscard]] tl::expected<std::shared_ptr<const ZoneRules>, std::string>
load_named_zone(std::string_view name, const std::filesystem::path& directory = zone_directory);

} // namespace oxherd::config
