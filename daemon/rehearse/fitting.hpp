#pragma once

#include <chrono>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "config/settings.hpp"
#include "daemon/rehearse/sample.hpp"
#include "daemon/room/monitoring.hpp"

namespace oxherd::daemon::rehearse {

/// A room of the rules with the channels of the data in place of its sensors.
struct FittedRoom {
  config::Room room;
  std::vector<std::string> said; ///< what could not be rehearsed as the rules have it, in sentences
};

/// Alarms on a gas that the data lacks, on outputs and on doors are left out, and a vote for which the data has a
/// single channel becomes 1oo1; both are said. Refused: any other number of channels than the vote has, and a room
/// without data.
/// @param rules     the file's name, for the messages
/// @param channels  of this room
[[nodiscard]] tl::expected<FittedRoom, std::string> fit_room(const config::Room& room, const std::string& rules,
                                                             const std::vector<DataChannel>& channels);

// What the rules know of sensors; null or nothing where they know none.
[[nodiscard]] const config::Sensor* sensor_named(const config::Room& room, std::string_view name);
[[nodiscard]] bool has_gas_sensors(const config::Room& room);
/// The name for data that only says which gas it is: that of the room's only sensor for it, else the gas's own.
[[nodiscard]] std::string only_sensor_for(const std::vector<config::Room>& rooms, std::string_view room,
                                          config::Measurand gas);
/// The standard uncertainty of a channel that reports its fraction itself; 0 where the rules do not tell.
[[nodiscard]] double stated_u(const std::vector<config::Room>& rooms, const DataChannel& channel);
/// Where a channel votes among those of its room; behind all others when the rules do not have it.
[[nodiscard]] std::size_t place_of_sensor(const std::vector<config::Room>& rooms, const DataChannel& channel);

/// The middle one of the steps between times that ascend; nothing where there is none.
[[nodiscard]] std::optional<std::chrono::milliseconds> middle_step(const std::vector<WallTime>& times);
/// The period of recorded samples: what was found, or the rules' own when it is within a tenth of it.
[[nodiscard]] std::chrono::milliseconds likely_period(std::chrono::milliseconds by_the_rules,
                                                      std::optional<std::chrono::milliseconds> found);

} // namespace oxherd::daemon::rehearse
