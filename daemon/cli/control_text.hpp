#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// The actuators of a room, one block each: what it does and who decided, its loop, what stands in its way.
[[nodiscard]] std::string control_text(const Console& console, const nlohmann::json& actuators);

} // namespace oxherd::daemon::cli
