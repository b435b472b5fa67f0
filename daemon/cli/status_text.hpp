#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// The result of a status request for a person: the worst rooms first, then buses, broker and records, then the
/// caution. Copes with any JSON object.
[[nodiscard]] std::string status_text(const Console& console, const nlohmann::json& status);

} // namespace oxherd::daemon::cli
