#include "daemon/cli/cell_view.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "daemon/calibration/wording.hpp"
#include "daemon/run/cells_in_force.hpp"

namespace oxherd::daemon::cli {
namespace {

WallTime first_due(const CellView& view) {
  WallTime due = WallTime::max();
  for (const auto& at : {view.life.next_check, view.life.next_calibration, view.life.replace_by})
    if (at) due = std::min(due, *at);
  return due;
}

bool needs_a_person_more(const CellView& a, const CellView& b) {
  if (a.status != b.status) return a.status > b.status;
  if (a.in_force.has_value() != b.in_force.has_value()) return b.in_force.has_value();
  return first_due(a) < first_due(b);
}

} // namespace

CellView view_of(const CellInUse& cell, const std::vector<CalibrationRecord>& records, WallTime now) {
  CellView view;
  view.cell = cell;
  view.life = life_of(cell, records, now);
  view.in_force = calibration_in_force(cell, records, now);
  view.standing = records_of(cell, records);
  view.status = view.in_force ? alarms::gravest(view.life.reasons) : alarms::Status::failure;
  return view;
}

std::vector<CellView> views_of(const CellsAndRecords& known, WallTime now) {
  std::vector<CellView> views;
  for (const auto& cell : known.cells) views.push_back(view_of(cell, known.records, now));
  std::ranges::stable_sort(views, needs_a_person_more);
  return views;
}

std::string state_words(const CellView& view) {
  if (!view.in_use) return "not in use";
  if (!view.in_force) return "NOT CALIBRATED";
  if (view.status == alarms::Status::ok) return view.in_force->at ? "in order" : "undated";
  std::string words{alarms::name_of(view.status)};
  std::ranges::replace(words, '_', ' ');
  return words;
}

std::string due_text(const DueDate& due, WallTime now) {
  if (!due.asked_for && !due.at) return "never";
  if (!due.at) return "-";
  if (!due.overdue) return day_text(*due.at);
  const auto late = std::chrono::floor<std::chrono::days>(now - *due.at).count();
  return fmt::format("{} OVERDUE {} d", day_text(*due.at), late);
}

DueDate next_check_of(const CellView& view) {
  return {view.life.next_check, view.life.check_overdue, view.cell.cell.upkeep.check_every.has_value()};
}

DueDate next_calibration_of(const CellView& view) {
  return {view.life.next_calibration, view.life.calibration_overdue, view.cell.cell.upkeep.calibrate_every.has_value()};
}

} // namespace oxherd::daemon::cli
