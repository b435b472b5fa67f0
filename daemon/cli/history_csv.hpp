#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

namespace oxherd::daemon::cli {

/// The result of a history request as comma-separated values with one line of column names. Every number has the digits
/// of the answer; what was not known is an empty field. Copes with any JSON object.
/// @source RFC 4180: lines end with CR LF, a field with a comma, quote or line break is quoted
[[nodiscard]] std::string history_csv(const nlohmann::json& result, bool alarms);

} // namespace oxherd::daemon::cli
