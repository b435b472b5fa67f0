#pragma once

#include <vector>

#include "config/settings.hpp"
#include "daemon/sparkplug/metric.hpp"

namespace oxherd::daemon::sparkplug {

/// Every metric of every room: of each sensor SENSOR/QUANTITY with the quantities and units of its SenML packs and a
/// standard uncertainty beside each, of each alarm alarms/ALARM/..., of the room itself state/....
[[nodiscard]] Plan plan_of(const config::Settings& settings);

/// The names, below a sensor's own, of what readings say, in the order of `values_of`.
[[nodiscard]] std::vector<std::string> reading_names();
/// What a reading says of its sensor, whatever that measures. When its quality is bad no value is valid, also where
/// there is a number.
void values_of(const ReadingRecord& reading, std::vector<Said>& out);
/// The same when nothing valid comes from a sensor any more.
void values_lost(std::vector<Said>& out);

/// What is said of the room itself and of its alarms, without its sensors.
[[nodiscard]] std::vector<Named> values_of(const RoomStatus& room);
[[nodiscard]] std::vector<Named> values_of(const AlarmStatus& alarm);

} // namespace oxherd::daemon::sparkplug
