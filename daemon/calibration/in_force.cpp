#include "daemon/calibration/in_force.hpp"

#include <algorithm>
#include <map>

namespace oxherd::daemon {

namespace {

/// For each record that no longer stands, the number of the one that made it so.
struct Voided {
  std::map<std::int64_t, std::int64_t> withdrawn;
  std::map<std::int64_t, std::int64_t> replaced;
};

Voided voided_among(const std::vector<CalibrationRecord>& records) {
  std::vector<const CalibrationRecord*> newest_first;
  for (const auto& record : records) newest_first.push_back(&record);
  std::sort(newest_first.begin(), newest_first.end(),
            [](const auto* a, const auto* b) { return a->number > b->number; });
  // Both maps are complete for every record by the time it is looked at, for only later records void it.
  Voided voided;
  for (const auto* record : newest_first) {
    if (voided.withdrawn.contains(record->number)) continue; // as if it had never been entered
    if (!record->supersedes || *record->supersedes >= record->number) continue;
    auto& target = record->act == CalibrationAct::withdrawal ? voided.withdrawn : voided.replaced;
    target.emplace(*record->supersedes, record->number);
  }
  return voided;
}

} // namespace

std::vector<CalibrationRecord> effective(const std::vector<CalibrationRecord>& records) {
  const auto voided = voided_among(records);
  std::vector<CalibrationRecord> standing;
  for (const auto& record : records)
    if (record.act != CalibrationAct::withdrawal && !voided.withdrawn.contains(record.number) &&
        !voided.replaced.contains(record.number))
      standing.push_back(record);
  std::sort(standing.begin(), standing.end(), [](const auto& a, const auto& b) {
    return a.performed != b.performed ? a.performed < b.performed : a.number < b.number;
  });
  return standing;
}

Standing standing_of(const std::vector<CalibrationRecord>& records, std::int64_t number) {
  const auto voided = voided_among(records);
  if (const auto found = voided.withdrawn.find(number); found != voided.withdrawn.end())
    return {Standing::Kind::withdrawn, found->second};
  if (const auto found = voided.replaced.find(number); found != voided.replaced.end())
    return {Standing::Kind::replaced, found->second};
  return {};
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
