#pragma once

#include <memory>
#include <optional>
#include <string>
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

/// The cells whose serial number a new configuration changes while it leaves their calibration as it was: that one
/// belongs to the old cell, most likely. By "room/sensor".
[[nodiscard]] std::vector<std::string> calibrations_left_behind(const config::Settings& before,
                                                                const config::Settings& next);

} // namespace oxherd::daemon
