#pragma once

#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/room/gas_reading.hpp"
#include "daemon/room/room_alarms.hpp"

namespace oxherd::daemon {

/// What the alarms of a room look at, from the readings of its sensors (empty for sensors that measure no gas).
/// Monitored means: every gas the room has sensors for has as many good channels as its vote needs, none of them with
/// an uncertainty too wide to judge by.
[[nodiscard]] WatchedQuantities watch_room(const config::Room& room,
                                           const std::vector<std::optional<GasReading>>& readings,
                                           const alarms::Presence& presence);

/// The gas a sensor measures; empty for an ambient probe.
[[nodiscard]] std::optional<config::Measurand> gas_of(const config::Sensor& sensor);

} // namespace oxherd::daemon
