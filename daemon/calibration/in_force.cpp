#include "daemon/calibration/in_force.hpp"

#include <algorithm>
#include <set>

namespace oxherd::daemon {

std::vector<CalibrationRecord> effective(const std::vector<CalibrationRecord>& records) {
  std::vector<const CalibrationRecord*> newest_first;
  for (const auto& record : records) newest_first.push_back(&record);
  std::sort(newest_first.begin(), newest_first.end(),
            [](const auto* a, const auto* b) { return a->number > b->number; });
  // Both are complete for every record by the time it is looked at, for only later records void it.
  std::set<std::int64_t> withdrawn;
  std::set<std::int64_t> replaced;
  std::vector<CalibrationRecord> standing;
  for (const auto* record : newest_first) {
    if (withdrawn.contains(record->number)) continue; // as if it had never been entered
    const bool withdraws = record->act == CalibrationAct::withdrawal;
    if (record->supersedes && *record->supersedes < record->number)
      (withdraws ? withdrawn : replaced).insert(*record->supersedes);
    if (!withdraws && !replaced.contains(record->number)) standing.push_back(*record);
  }
  std::sort(standing.begin(), standing.end(), [](const auto& a, const auto& b) {
    return a.performed != b.performed ? a.performed < b.performed : a.number < b.number;
  });
  return standing;
}

std::vector<CalibrationRecord> effective_of(const std::vector<CalibrationRecord>& records, std::string_view serial) {
  auto standing = effective(records); // of all cells: a correction may say that the serial itself was wrong
  std::erase_if(standing, [&](const auto& record) { return record.serial != serial; });
  return standing;
}

std::optional<CalibrationRecord> in_force_at(const std::vector<CalibrationRecord>& records, std::string_view serial,
                                             WallTime t) {
  const auto standing = effective_of(records, serial);
  const auto found = std::find_if(standing.rbegin(), standing.rend(), [&](const auto& record) {
    return record.act == CalibrationAct::adjustment && record.calibration && record.performed <= t;
  });
  if (found == standing.rend()) return {};
  return *found;
}

} // namespace oxherd::daemon
