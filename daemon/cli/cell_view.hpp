#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/calibration/in_force.hpp"
#include "daemon/run/cells_answer.hpp"

namespace oxherd::daemon::cli {

/// One cell with all that is to be shown of it.
struct CellView {
  CellInUse cell;
  CellLife life;
  std::optional<ActiveCalibration> in_force;
  std::vector<CalibrationRecord> standing; ///< with the configuration's own as number 0, oldest first
  alarms::Status status = alarms::Status::ok;
  bool in_use = true; ///< false: only records know it
  [[nodiscard]] std::string name() const { return cell.room + "/" + cell.sensor; }
};

[[nodiscard]] CellView view_of(const CellInUse& cell, const std::vector<CalibrationRecord>& records, WallTime now);
/// Every cell, those that most need a person first; of equals the one that is due first.
[[nodiscard]] std::vector<CellView> views_of(const CellsAndRecords& known, WallTime now);

/// "NOT CALIBRATED", "failure", "maintenance required", ...; "undated" where nobody can tell what is due; "not in
/// use"; "in order".
[[nodiscard]] std::string state_words(const CellView& view);
/// A due date with what is to be said of it: "2026-04-01", "2026-02-01 OVERDUE 3 d", "never", "-".
struct DueDate {
  std::optional<WallTime> at;
  bool overdue = false;
  bool asked_for = true;
};
[[nodiscard]] std::string due_text(const DueDate& due, WallTime now);
[[nodiscard]] DueDate next_check_of(const CellView& view);
[[nodiscard]] DueDate next_calibration_of(const CellView& view);

} // namespace oxherd::daemon::cli
