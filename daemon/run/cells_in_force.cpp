#include "daemon/run/cells_in_force.hpp"

#include "daemon/replay/basis_in_force.hpp"
#include "daemon/store/basis_text.hpp"

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

std::vector<std::string> calibrations_left_behind(const config::Settings& before, const config::Settings& next) {
  const auto text_of_calibration = [](const CellInUse& cell) {
    ReadingBasis basis;
    if (cell.configured) basis.calibration = {cell.configured->calibration, cell.configured->at};
    return store::basis_text(basis);
  };
  std::vector<std::string> left;
  const auto old_cells = cells_in_use(before);
  for (const auto& cell : cells_in_use(next))
    for (const auto& old : old_cells)
      if (cell.configured && old.room == cell.room && old.sensor == cell.sensor &&
          old.cell.serial != cell.cell.serial && text_of_calibration(old) == text_of_calibration(cell))
        left.push_back(cell.room + "/" + cell.sensor);
  return left;
}

} // namespace oxherd::daemon
