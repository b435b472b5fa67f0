#pragma once

#include <algorithm>
#include <chrono>
#include <cmath>

#include "compensation/oxygen_reading.hpp"
#include "config/settings.hpp"

namespace oxherd::daemon {

/// What a cell's signal may be wrong by so long after its calibration. Its sensitivity may have drifted by then, in
/// either direction for all we know: rectangular, a / sqrt(3) (GUM 4.3.7). No time has passed since a calibration whose
/// date is not known or still to come.
[[nodiscard]] inline compensation::SignalErrors signal_errors(const config::CellSettings& cell,
                                                              std::chrono::milliseconds since_calibration) {
  using Months = std::chrono::duration<double, std::ratio<2629800>>; // of 30.4375 days, as drift is stated
  const double months = std::max(Months{since_calibration}.count(), 0.0);
  return {cell.resolution.si(), cell.linearity, cell.drift_per_month * months / std::sqrt(3.0)};
}

} // namespace oxherd::daemon
