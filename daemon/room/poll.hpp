#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "alarms/time.hpp"
#include "daemon/records.hpp"
#include "drivers/decode.hpp"
#include "drivers/register_bus.hpp"

namespace oxherd::daemon {

using alarms::Monotonic;

/// Where a sensor stands in the settings.
struct SensorRef {
  std::size_t room = 0;
  std::size_t sensor = 0;
  friend bool operator==(const SensorRef&, const SensorRef&) = default;
};

/// What one poll of one sensor brought, as plain values; recorded polls replay to identical results.
struct Poll {
  SensorRef sensor;
  std::vector<drivers::Value> values; ///< in the order of the sensor's register map
  std::vector<bool> status;           ///< likewise, one per status rule
  std::optional<drivers::BusError> error;
  Monotonic at{0};
  WallTime wall;
};

} // namespace oxherd::daemon
