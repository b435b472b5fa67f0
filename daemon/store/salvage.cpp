#include "daemon/store/salvage.hpp"

#include <chrono>

#include <fmt/core.h>

#include "daemon/log.hpp"

namespace oxherd::daemon::store {
namespace {

/// One statement either takes a whole table or, at a damaged page, nothing.
bool take_over(Database &fresh, std::string_view what, std::string_view sql) {
  if (const auto done = fresh.run(sql); !done) {
    log::error("{} cannot be recovered: {}", what, done.error().what);
    return false;
  }
  log::warning("{} recovered: {} rows", what, fresh.changes());
  return true;
}

std::int64_t now_ms() {
  return std::chrono::duration_cast<std::chrono::milliseconds>(std::chrono::system_clock::now().time_since_epoch())
      .count();
}

} // namespace

void salvage_journal(Database &fresh, const std::filesystem::path &damaged) {
  auto attach = fresh.prepare("ATTACH ? AS damaged");
  if (!attach) return log::error("nothing can be recovered: {}", attach.error().what);
  const std::string name = damaged.string();
  if (const auto done = attach->bind(1, std::string_view{name}).run(); !done)
    return log::error("nothing can be recovered: {}", done.error().what);
  take_over(fresh, "alarm states", "INSERT OR IGNORE INTO main.alarm_state SELECT * FROM damaged.alarm_state");
  if (take_over(fresh, "calibrations", "INSERT OR IGNORE INTO main.calibration SELECT * FROM damaged.calibration"))
    take_over(fresh, "calibration points",
              "INSERT OR IGNORE INTO main.calibration_point SELECT * FROM damaged.calibration_point");
  const bool whole = take_over(fresh, "the alarm journal", "INSERT INTO main.journal SELECT * FROM damaged.journal");
  // Sequence numbers go on from the old ones: a line that says so holds the place.
  if (!whole)
    take_over(fresh, "the last sequence number of the journal",
              fmt::format("INSERT INTO main.journal SELECT max(sequence) + 1, {}, '', '', 'journal-damaged', 'normal', "
                          "'normal', '', '', '', 'high', NULL, NULL, NULL, '', 'earlier lines are in the damaged file' "
                          "FROM damaged.journal HAVING count(sequence) > 0",
                          now_ms()));
  if (const auto done = fresh.run("DETACH damaged"); !done) log::error("{}", done.error().what);
}

} // namespace oxherd::daemon::store
