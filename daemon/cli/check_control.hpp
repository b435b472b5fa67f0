#pragma once

#include <string>

#include "config/settings.hpp"

namespace oxherd::daemon::cli {

/// The actuators of a room as its settings have them: how they rest, their times, their loops, and every condition that
/// has to hold, for a person; empty when the room has none.
[[nodiscard]] std::string control_summary_text(const config::Settings& settings, const config::Room& room);
/// The same as a JSON array.
[[nodiscard]] std::string control_summary_json(const config::Settings& settings, const config::Room& room);

} // namespace oxherd::daemon::cli
