#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

namespace oxherd::daemon::cli {

/// How a loop performed: each figure with what it means and, where something stands out, what to do.
/// @param loop  as in an answer
[[nodiscard]] std::string loop_report_text(const std::string& room, const nlohmann::json& loop);

} // namespace oxherd::daemon::cli
