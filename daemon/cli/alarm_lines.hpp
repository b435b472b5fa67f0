#pragma once

#include <string>

#include <nlohmann/json_fwd.hpp>

#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// One alarm of an answer for a person: state, priority, name, since when, value and limit, and its message.
/// @param now  the answer's own time, for the age
[[nodiscard]] std::string alarm_lines(const Console& console, const nlohmann::json& alarm, const std::string& now,
                                      std::size_t indent);

/// Whether an alarm of an answer is in the state `normal`.
[[nodiscard]] bool is_normal(const nlohmann::json& alarm);
/// Whether it waits for an acknowledgement: unacknowledged, returned or latched unacknowledged.
[[nodiscard]] bool waits_for_acknowledgement(const nlohmann::json& alarm);

/// Seconds from one RFC 3339 time to another, as a duration for a person; empty when one cannot be read.
[[nodiscard]] std::string age_text(const std::string& since, const std::string& now);

} // namespace oxherd::daemon::cli
