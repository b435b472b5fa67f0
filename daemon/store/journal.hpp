#pragma once

#include <filesystem>
#include <span>
#include <vector>

#include "daemon/store/queue.hpp"
#include "daemon/store/sqlite.hpp"

namespace oxherd::daemon::store {

/// journal.sqlite, open for writing. Belongs to the writer thread once it runs.
class Journal {
public:
  /// A damaged file is moved aside; what can still be read of it is taken over into the new one.
  [[nodiscard]] static tl::expected<Journal, DbError> open(const std::filesystem::path& state_dir);
  /// After a page turned out damaged at work: moves the file aside and opens a new one in the same way.
  [[nodiscard]] static tl::expected<Journal, DbError> replace(const std::filesystem::path& state_dir);

  /// One transaction: every line together with the state of its alarm after it.
  [[nodiscard]] tl::expected<void, DbError> write(std::span<const Queued<AlarmRow>> rows);
  [[nodiscard]] tl::expected<void, DbError> add(const StoredCalibration& calibration);

  /// The alarms as they stood, their ages counted in civil time up to `now`. A clock that went back meanwhile gives the
  /// age zero, and never prolongs a shelving.
  [[nodiscard]] tl::expected<Remembered, DbError> remembered(WallTime now);

private:
  struct Statements {
    Statement line, next_line, state, calibration, point;
  };
  Journal(Database database, Statements statements)
      : database_{std::move(database)}, statements_{std::move(statements)} {}
  [[nodiscard]] static tl::expected<Journal, DbError> prepared(Database database);
  [[nodiscard]] tl::expected<void, DbError> write_line(const AlarmRecord& record);
  [[nodiscard]] tl::expected<void, DbError> write_state(const AlarmRow& row);
  [[nodiscard]] tl::expected<void, DbError> write_point(std::int64_t calibration, std::string_view point,
                                                        const compensation::CalibrationPoint& values);

  Database database_;
  Statements statements_;
};

/// The newest calibration of each sensor and serial, oldest first. Any connection to journal.sqlite will do.
[[nodiscard]] tl::expected<std::vector<StoredCalibration>, DbError> newest_calibrations(Database& journal);

} // namespace oxherd::daemon::store
