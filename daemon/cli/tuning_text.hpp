#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// The tuning experiment of a loop that runs, or what the last one found; empty where there was none.
/// @param loop  as in an answer
[[nodiscard]] std::string tuning_text(const Console& console, const nlohmann::json& loop);

} // namespace oxherd::daemon::cli
