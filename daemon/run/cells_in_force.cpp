#include "daemon/run/cells_in_force.hpp"

#include "daemon/replay/basis_in_force.hpp"

namespace oxherd::daemon {

std::optional<ActiveCalibration> calibration_in_force(const CellInUse& cell,
                                                      const std::vector<CalibrationRecord>& records, WallTime now) {
  auto recorded = recorded_calibration(records, cell.room, cell.sensor, cell.cell.serial, now);
  if (!cell.configured) return recorded;
  ActiveCalibration configured{cell.configured->calibration, cell.configured->at};
  const bool newer = recorded && (!configured.at || *configured.at < *recorded->at);
  return newer ? recorded : configured;
}

Calibrations calibrations_in_force(const config::Settings& settings, const std::vector<CalibrationRecord>& records,
                                   WallTime now) {
  Calibrations in_force;
  for (const auto& cell : cells_in_use(settings))
    if (auto found = calibration_in_force(cell, records, now))
      in_force[cell.room + "/" + cell.sensor] = std::move(*found);
  return in_force;
}

} // namespace oxherd::daemon
