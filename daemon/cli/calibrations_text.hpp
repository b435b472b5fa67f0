#pragma once

#include <string>
#include <vector>

#include "daemon/cli/cell_view.hpp"
#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

/// All cells at a glance, one line each in the order given, with what is held against it beneath.
[[nodiscard]] std::string all_cells_text(const Console& console, const std::vector<CellView>& views, WallTime now);

/// One cell's life: state, sensitivity, drift, forecast, dates, a plot, and every record of it among `records`.
[[nodiscard]] std::string one_cell_text(const Console& console, const CellView& view,
                                        const std::vector<CalibrationRecord>& records, WallTime now);

/// The same two as JSON: {"now":...,"cells":[...]}; {"now":...,"cell":{...},"records":[{"standing","by","record"}]}.
[[nodiscard]] std::string all_cells_json(const std::vector<CellView>& views, WallTime now);
[[nodiscard]] std::string one_cell_json(const CellView& view, const std::vector<CalibrationRecord>& records,
                                        WallTime now);

/// Every record of this cell, those that no longer stand too, in the order of recording.
[[nodiscard]] std::vector<CalibrationRecord> every_record_of(const CellInUse& cell,
                                                             const std::vector<CalibrationRecord>& records);

} // namespace oxherd::daemon::cli
