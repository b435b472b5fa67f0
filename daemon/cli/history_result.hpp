#pragma once

#include <string>

#include "daemon/store/history.hpp"

namespace oxherd::daemon::cli {

/// The result of a history request as one JSON object: {"truncated":...,"readings":[...]}, each reading in the units of
/// its key.
[[nodiscard]] std::string history_result(const ReadingHistory& history);

/// The same for the alarm journal: {"truncated":...,"alarms":[...]}.
[[nodiscard]] std::string history_result(const AlarmHistory& history);

} // namespace oxherd::daemon::cli
