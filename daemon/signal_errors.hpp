#pragma once

#include <algorithm>
#include <chrono>
#include <cmath>

#include "compensation/oxygen_reading.hpp"
#include "config/settings.hpp"
#include "daemon/months.hpp"

namespace oxherd::daemon {

/// What a cell's signal may be wrong by so long after its calibration. Its sensitivity may have drifted by then, in
/// either direction for all we know: rectangular, a / sqrt(3) (GUM 4.3.7). No time has passed since a calibration whose
/// date is not known or still to come.
[[nodiscard]] inline compensation::SignalErrors signal_errors(const config::CellSettings& cell,
                                                              std::chrono::milliseconds since_calibration) {
  const double months = std::max(Months{since_calibration}.count(), 0.0);
  return {cell.resolution.si(), cell.linearity, cell.drift_per_month * months / std::sqrt(3.0)};
}

} // namespace oxherd::daemon
