#pragma once

#include <memory>
#include <optional>
#include <vector>

#include "daemon/calibration/care.hpp"
#include "daemon/room/site.hpp"

namespace oxherd::daemon {

/// The calibration on which readings of a cell rest at `now`: the newer of the store's (of the same sensor and serial
/// number) and the file's. Empty: it is not calibrated.
[[nodiscard]] std::optional<ActiveCalibration>
calibration_in_force(const CellInUse& cell, const std::vector<CalibrationRecord>& records, WallTime now);

/// That of every cell that has one.
[[nodiscard]] Calibrations calibrations_in_force(const config::Settings& settings,
                                                 const std::vector<CalibrationRecord>& records, WallTime now);

} // namespace oxherd::daemon
