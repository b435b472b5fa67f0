#pragma once

#include <filesystem>
#include <span>
#include <vector>

#include "daemon/store/chain.hpp"
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

  /// One transaction: every line together with its link of the chain and the state of its alarm after it.
  [[nodiscard]] tl::expected<void, DbError> write(std::span<const Queued<AlarmRow>> rows);
  /// @return the number it was given
  [[nodiscard]] tl::expected<std::int64_t, DbError> add(const CalibrationRecord& record);

  /// The alarms as they stood, their ages counted in civil time up to `now`. A clock that went back meanwhile gives the
  /// age zero, and never prolongs a shelving.
  [[nodiscard]] tl::expected<Remembered, DbError> remembered(WallTime now);

private:
  struct Statements {
    Statement line, next_line, state, calibration;
  };
  Journal(Database database, Statements statements, Chain chain)
      : database_{std::move(database)}, statements_{std::move(statements)}, chain_{std::move(chain)} {}
  [[nodiscard]] static tl::expected<Journal, DbError> prepared(Database database);
  [[nodiscard]] tl::expected<void, DbError> write_line(const AlarmRecord& record);
  [[nodiscard]] tl::expected<void, DbError> write_state(const AlarmRow& row);

  Database database_;
  Statements statements_;
  Chain chain_;
};

/// Every calibration record, in the order of recording. Any connection to journal.sqlite will do.
[[nodiscard]] tl::expected<std::vector<CalibrationRecord>, DbError> calibrations_in(Database& journal);

} // namespace oxherd::daemon::store
