#pragma once

#include <chrono>
#include <string>

#include "config/settings.hpp"

namespace oxherd::daemon::cli {

/// Worst case from the event to the announcement of an alarm. For a limit: gas at the cell, so the response of the
/// sensor (t90, assumed 20 s), one poll of the slowest sensor, the on-delay and one evaluation tick. For "not
/// monitored": the last good sample, so its permitted age instead of response and poll.
[[nodiscard]] std::chrono::milliseconds worst_case(const config::Room& room, const config::AlarmSettings& alarm);

/// What a good file sets up, for a person: rooms, sensors, alarms with limits, delays and worst cases.
[[nodiscard]] std::string summary_text(const config::Settings& settings);

/// The same as a JSON array of rooms.
[[nodiscard]] std::string summary_json(const config::Settings& settings);

} // namespace oxherd::daemon::cli
