#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/calibration/life.hpp"

namespace oxherd::daemon {

/// One cell as it is set up now: its place, how it is built and looked after, and the calibration that the
/// configuration itself gives it.
struct CellInUse {
  std::string room, sensor;
  config::CellSettings cell;
  std::optional<config::CalibrationSettings> configured;
};

/// Every cell of the configuration, in the order of the file.
[[nodiscard]] std::vector<CellInUse> cells_in_use(const config::Settings& settings);

/// What the configuration asks for, on top of the rules that are common to all cells.
[[nodiscard]] LifePlan plan_for(const config::CellSettings& cell);

/// The standing records of this very cell, oldest first: all of its serial number, wherever it was; of a cell without
/// one those made at its place. A dated calibration of the configuration counts as an adjustment, with the number 0.
[[nodiscard]] std::vector<CalibrationRecord> records_of(const CellInUse& cell,
                                                        const std::vector<CalibrationRecord>& records);

/// All that is known of its life at `now`.
/// @checked tests/daemon/calibration/care_test.cpp
[[nodiscard]] CellLife life_of(const CellInUse& cell, const std::vector<CalibrationRecord>& records, WallTime now);

/// What the life of each cell holds against it, by "room/sensor".
using CellReasons = std::map<std::string, std::vector<alarms::Reason>>;
[[nodiscard]] CellReasons cell_reasons(const std::vector<CellInUse>& cells,
                                       const std::vector<CalibrationRecord>& records, WallTime now);

} // namespace oxherd::daemon
