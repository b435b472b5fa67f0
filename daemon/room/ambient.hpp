#pragma once

#include <array>
#include <optional>
#include <vector>

#include "config/settings.hpp"
#include "daemon/room/channel.hpp"

namespace oxherd::daemon {

/// One point of one sensor.
struct PointRef {
  SensorRef sensor;
  std::size_t point = 0;
};

/// Where a room's ambient inputs come from, resolved once from the settings.
struct AmbientSources {
  std::optional<PointRef> temperature;
  std::optional<PointRef> humidity;
  std::optional<PointRef> humidity_temperature; ///< the humidity probe's own thermometer, when it is another one
  std::optional<PointRef> pressure;
  bool pressure_is_sea_level = false;
};

/// All of them; some are empty.
[[nodiscard]] std::array<std::optional<PointRef>, 4> sources_of(const AmbientSources& sources);
/// Whether any of them is a point of this sensor.
[[nodiscard]] bool is_source(const AmbientSources& sources, SensorRef sensor);

/// The gas of a room as compensation takes it, with what had to be assumed.
struct Ambient {
  compensation::GasConditions gas;
  std::vector<alarms::Reason> reasons; ///< out of specification for each input that was lost and replaced
};

/// The states of all sensors, room by room.
using SensorStates = std::vector<std::vector<SensorState>>;

/// Resolves the sources of one room: the references it names, else its own first probe, else (pressure) the site's
/// barometer, else (pressure) the standard atmosphere at the site's elevation.
[[nodiscard]] AmbientSources resolve_ambient(const config::Settings& settings, std::size_t room);

/// "room/sensor".
[[nodiscard]] std::string name_of(const config::Settings& settings, SensorRef at);
/// Writes into a basis, in words, where the ambient inputs of a room come from.
void describe_sources(const config::Settings& settings, std::size_t room, const AmbientSources& sources,
                      ReadingBasis& basis);

/// Forms the ambient conditions. A lost input is replaced and its uncertainty widened, never silently:
/// temperature by its last value (1 K, growing by 1 K an hour up to the assumed one's), humidity by 50 % ± 50 %
/// (rectangular), pressure by the standard atmosphere with 8 hPa of weather.
[[nodiscard]] Ambient ambient_of(const config::Settings& settings, std::size_t room, const AmbientSources& sources,
                                 const SensorStates& states, Monotonic now);

} // namespace oxherd::daemon
