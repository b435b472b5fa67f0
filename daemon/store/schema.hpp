#pragma once

#include <filesystem>
#include <span>
#include <string_view>

#include "daemon/store/sqlite.hpp"

namespace oxherd::daemon::store {

/// One of the files in the state directory that SQLite keeps.
struct Schema {
  std::string_view file_name;
  std::int64_t application_id;
  std::string_view synchronous;            ///< FULL: survives a power loss. NORMAL: may lose the last commits to it.
  std::span<const std::string_view> steps; ///< step n takes a file from version n to n + 1
  int cache_KiB = 1024;                    ///< pages of the file that a connection keeps in memory at most
};

/// journal.sqlite: the alarm journal, the alarms' states and the calibrations.
[[nodiscard]] const Schema& journal_schema();
/// measurements.sqlite: raw samples and readings. Append-only tables without a secondary index, which would cost fifty
/// times the bytes; `*_mark` says between which rowids the rows of one minute lie.
[[nodiscard]] const Schema& measurements_schema();

/// What opening did besides.
struct OpenedFile {
  Database database;
  std::filesystem::path set_aside; ///< where the damaged file went that was in its place; empty when none was
};

/// Opens one file of the store for writing: settings, identity, integrity, migration. A damaged file is moved aside and
/// a new one started; a file of another program or of a newer version is refused, never touched.
[[nodiscard]] tl::expected<OpenedFile, DbError> open_file(const std::filesystem::path& state_dir, const Schema& schema);

/// The same after a page turned out damaged at work: the file is moved aside without another check.
[[nodiscard]] tl::expected<OpenedFile, DbError> replace_file(const std::filesystem::path& state_dir,
                                                             const Schema& schema);

/// Opens for reading only, beside a running daemon or without one; refuses a missing file and a newer version.
[[nodiscard]] tl::expected<Database, DbError> open_for_reading(const std::filesystem::path& state_dir,
                                                               const Schema& schema);

/// For writing beside a daemon that may run; the file must exist and be of this very schema.
[[nodiscard]] tl::expected<Database, DbError> open_beside(const std::filesystem::path& state_dir, const Schema& schema);

} // namespace oxherd::daemon::store
