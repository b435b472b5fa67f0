#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

namespace oxherd::daemon::cli {

/// The result of a history request as a table for a person. Copes with any JSON object.
[[nodiscard]] std::string history_text(const nlohmann::json& result, bool alarms, bool as_recorded = false);

} // namespace oxherd::daemon::cli
