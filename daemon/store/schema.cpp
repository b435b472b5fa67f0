#include "daemon/store/schema.hpp"

#include <cerrno>
#include <chrono>
#include <cstring>
#include <iterator>

#include <fcntl.h>
#include <unistd.h>

#include <fmt/core.h>

#include "daemon/clock.hpp"
#include "daemon/log.hpp"
#include "daemon/store/schema_steps.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::store {
namespace {

/// Up to this size a file is checked whole at start, in under two seconds; beyond it its schema only, because a start
/// must not keep the alarms waiting for minutes. A page found damaged at work is dealt with then.
constexpr std::uintmax_t whole_check_bytes = std::uintmax_t{512} << 20U;

DbError plain_error(std::string what) { return {Trouble::other, std::move(what)}; }

tl::expected<void, DbError> configure(Database& database, const Schema& schema, const std::string& name) {
  const auto mode = database.text("PRAGMA journal_mode=WAL");
  if (!mode) return tl::unexpected(mode.error());
  if (*mode != "wal")
    return tl::unexpected(plain_error(fmt::format(
        "{}: write-ahead logging does not work here; put the state directory on a local file system", name)));
  return database.run(fmt::format("PRAGMA synchronous={}; PRAGMA foreign_keys=ON; PRAGMA secure_delete=OFF;"
                                  "PRAGMA journal_size_limit=67108864; PRAGMA wal_autocheckpoint=1000;"
                                  "PRAGMA cache_size=-{}; PRAGMA temp_store=MEMORY; PRAGMA trusted_schema=OFF",
                                  schema.synchronous, schema.cache_KiB));
}

/// Refuses a file that is not ours, and one that a newer version wrote. Zero for a new file.
tl::expected<std::int64_t, DbError> version_of(Database& database, const Schema& schema, const std::string& name) {
  const auto tables = database.integer("SELECT count(*) FROM sqlite_schema");
  if (!tables) return tl::unexpected(tables.error());
  const auto id = database.integer("PRAGMA application_id");
  if (!id) return tl::unexpected(id.error());
  const auto version = database.integer("PRAGMA user_version");
  if (!version) return tl::unexpected(version.error());
  if (*tables > 0 && *id != schema.application_id)
    return tl::unexpected(plain_error(
        fmt::format("{} is a database of another program: move it away or give another state directory", name)));
  if (*version > std::ssize(schema.steps))
    return tl::unexpected(plain_error(fmt::format("{} has schema {} and this oxherd knows up to {}: use the newer "
                                                  "oxherd, or move the file away",
                                                  name, *version, std::ssize(schema.steps))));
  return *tables == 0 ? 0 : *version;
}

tl::expected<void, DbError> check(Database& database, const std::filesystem::path& file) {
  std::error_code ignored;
  const bool whole = std::filesystem::file_size(file, ignored) <= whole_check_bytes;
  const auto verdict = database.text(whole ? "PRAGMA quick_check(1)" : "PRAGMA quick_check('sqlite_schema')");
  if (!verdict) return tl::unexpected(verdict.error());
  if (*verdict != "ok")
    return tl::unexpected(DbError{Trouble::damaged, fmt::format("damaged: {}: {}", file.string(), *verdict)});
  return {};
}

tl::expected<void, DbError> migrate(Database& database, const Schema& schema, std::int64_t version) {
  for (; version < std::ssize(schema.steps); ++version) {
    auto transaction = Transaction::begin(database);
    if (!transaction) return tl::unexpected(transaction.error());
    const auto done =
        database.run(fmt::format("{}; PRAGMA application_id={}; PRAGMA user_version={}",
                                 schema.steps[static_cast<std::size_t>(version)], schema.application_id, version + 1));
    if (!done) return done;
    if (auto committed = transaction->commit(); !committed) return committed;
  }
  return {};
}

tl::expected<Database, DbError> open_once(const std::filesystem::path& file, const Schema& schema) {
  auto database = Database::open(file, Database::Mode::create);
  if (!database) return database;
  const auto version = version_of(*database, schema, file.string());
  if (!version) return tl::unexpected(version.error());
  if (const auto done = configure(*database, schema, file.string()); !done) return tl::unexpected(done.error());
  if (const auto sound = check(*database, file); !sound) return tl::unexpected(sound.error());
  if (const auto done = migrate(*database, schema, *version); !done) return tl::unexpected(done.error());
  return database;
}

/// Moves a damaged file aside with its write-ahead log, which belongs to it under the new name.
tl::expected<std::filesystem::path, DbError> set_aside(const std::filesystem::path& file) {
  const auto now = wall_now();
  const std::filesystem::path aside = fmt::format("{}.damaged-{}", file.string(), rfc3339(now));
  for (const char* suffix : {"-wal", "-shm", ""}) {
    std::error_code failed;
    std::filesystem::rename(file.string() + suffix, aside.string() + suffix, failed);
    if (failed && failed != std::errc::no_such_file_or_directory)
      return tl::unexpected(plain_error(
          fmt::format("{} is damaged and cannot be moved aside: {}", file.string() + suffix, failed.message())));
  }
  return aside;
}

tl::expected<OpenedFile, DbError> start_anew(const std::filesystem::path& file, const Schema& schema,
                                             std::string_view why) {
  auto aside = set_aside(file);
  if (!aside) return tl::unexpected(aside.error());
  log::error("{}; the file was moved to {} and a new one is started: keep it, its records may be recovered", why,
             aside->string());
  auto database = open_once(file, schema);
  if (!database) return tl::unexpected(database.error());
  return OpenedFile{std::move(*database), std::move(*aside)};
}

} // namespace

const Schema& journal_schema() {
  static constexpr Schema schema{"journal.sqlite", 0x4f78684a, "FULL", journal_steps};
  return schema;
}

const Schema& measurements_schema() {
  static constexpr Schema schema{"measurements.sqlite", 0x4f78684d, "NORMAL", measurements_steps, 6144};
  return schema;
}

tl::expected<OpenedFile, DbError> open_file(const std::filesystem::path& state_dir, const Schema& schema) {
  const auto file = state_dir / schema.file_name;
  auto database = open_once(file, schema);
  if (database) return OpenedFile{std::move(*database), {}};
  if (database.error().trouble != Trouble::damaged) return tl::unexpected(database.error());
  return start_anew(file, schema, database.error().what);
}

tl::expected<OpenedFile, DbError> replace_file(const std::filesystem::path& state_dir, const Schema& schema) {
  const auto file = state_dir / schema.file_name;
  return start_anew(file, schema, fmt::format("damaged: {}: found at work", file.string()));
}

tl::expected<Database, DbError> open_for_reading(const std::filesystem::path& state_dir, const Schema& schema) {
  const auto file = state_dir / schema.file_name;
  std::error_code failed;
  if (!std::filesystem::exists(file, failed))
    return tl::unexpected(plain_error(
        failed ? fmt::format("{}: {}", file.string(), failed.message())
               : fmt::format("no records here: {} does not exist; give the daemon's --state-dir", file.string())));
  auto usable = [&](Database::Mode mode) -> tl::expected<Database, DbError> {
    auto database = Database::open(file, mode);
    if (!database) return database;
    const auto version = version_of(*database, schema, file.string());
    if (!version) return tl::unexpected(version.error());
    return database;
  };
  auto database = usable(Database::Mode::read);
  // A reader without a daemon must make -shm and -wal itself. Where it may not (no permission, no space), the file
  // alone holds everything as long as no -wal with content lies beside it.
  std::error_code missing;
  const auto wal_bytes = std::filesystem::file_size(file.string() + "-wal", missing);
  if (!database && database.error().trouble != Trouble::damaged && (missing || wal_bytes == 0))
    return usable(Database::Mode::read_fixed);
  return database;
}

tl::expected<Database, DbError> open_beside(const std::filesystem::path& state_dir, const Schema& schema) {
  const auto file = state_dir / schema.file_name;
  std::error_code failed;
  if (!std::filesystem::exists(file, failed))
    return tl::unexpected(plain_error(fmt::format("no records here: {} does not exist", file.string())));
  auto database = Database::open(file, Database::Mode::create);
  if (!database) return database;
  const auto version = version_of(*database, schema, file.string());
  if (!version) return tl::unexpected(version.error());
  if (*version != std::ssize(schema.steps))
    return tl::unexpected(plain_error(fmt::format(
        "{} has schema {}: start this version's daemon once, it brings the file up to date", file.string(), *version)));
  if (const auto done = configure(*database, schema, file.string()); !done) return tl::unexpected(done.error());
  return database;
}

} // namespace oxherd::daemon::store
