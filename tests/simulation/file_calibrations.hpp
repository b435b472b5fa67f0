#pragma once

#include "daemon/room/site.hpp"

namespace oxherd::simulation {

/// The calibrations that the settings file itself gives.
[[nodiscard]] inline daemon::Calibrations file_calibrations(const config::Settings& settings) {
  daemon::Calibrations all;
  for (const auto& room : settings.rooms)
    for (const auto& sensor : room.sensors)
      if (sensor.calibration)
        all[room.name + "/" + sensor.name] = {sensor.calibration->calibration, sensor.calibration->at};
  return all;
}

} // namespace oxherd::simulation
