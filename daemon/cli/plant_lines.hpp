#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// What the rooms of a status answer rest on, a line each: buses, outputs, broker, people, watcher, records.
[[nodiscard]] std::string plant_lines(const Console& console, const nlohmann::json& status);

} // namespace oxherd::daemon::cli
