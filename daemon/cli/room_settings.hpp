#pragma once

#include <string>

#include <tl/expected.hpp>

#include "config/settings.hpp"
#include "daemon/cli/arguments.hpp"

namespace oxherd::daemon::cli {

/// The settings that --config names (config_option of cell_records.hpp); the error is the first that stands in them.
[[nodiscard]] tl::expected<config::Settings, std::string> settings_of(const Arguments& arguments);

/// A room of the settings, or a sentence that names the nearest. The settings must outlive it.
[[nodiscard]] tl::expected<const config::Room*, std::string> room_of(const config::Settings& settings,
                                                                     const std::string& name);

} // namespace oxherd::daemon::cli
