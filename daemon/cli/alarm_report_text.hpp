#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

namespace oxherd::daemon::cli {

/// The report for a person, without the caution. Copes with any JSON object.
[[nodiscard]] std::string alarm_report_text(const nlohmann::json& result);

} // namespace oxherd::daemon::cli
