#include "daemon/store/sqlite.hpp"

#include <bit>
#include <cerrno>
#include <cmath>
#include <cstring>
#include <utility>

#include <fmt/core.h>
#include <sqlite3.h>
#include <sys/statvfs.h>

namespace oxherd::daemon::store {
namespace {

/// Less than this free: an I/O error is taken for what it most likely is, a full disk. Opening a WAL database without
/// room for its -shm file says "I/O error" only.
constexpr unsigned long long nearly_full_bytes = 256ULL * 1024;

bool no_space_left(const char* file) {
  struct statvfs space {};
  return ::statvfs(file, &space) == 0 && space.f_bavail * space.f_frsize < nearly_full_bytes;
}

/// As its file system says: a commit that fails does not hand on the system's error.
bool is_mounted_read_only(const char* file) {
  struct statvfs system {};
  return ::statvfs(file, &system) == 0 && (system.f_flag & ST_RDONLY) != 0;
}

Trouble trouble_of(int code, int os_error, const char* file) {
  switch (code & 0xff) {
  case SQLITE_FULL: return Trouble::full;
  case SQLITE_READONLY: return Trouble::read_only;
  case SQLITE_CORRUPT:
  case SQLITE_NOTADB: return Trouble::damaged;
  case SQLITE_IOERR:
  case SQLITE_CANTOPEN:
    if (os_error == ENOSPC || os_error == EDQUOT || os_error == EFBIG || no_space_left(file)) return Trouble::full;
    if (os_error == EROFS || is_mounted_read_only(file)) return Trouble::read_only;
    return Trouble::other;
  default: break;
  }
  const bool duplicate =
      code == SQLITE_CONSTRAINT_PRIMARYKEY || code == SQLITE_CONSTRAINT_UNIQUE || code == SQLITE_CONSTRAINT_ROWID;
  return duplicate ? Trouble::duplicate : Trouble::other;
}

DbError describe(sqlite3* connection, int code, const std::string& file) {
  const int os_error = connection != nullptr ? sqlite3_system_errno(connection) : 0;
  const Trouble trouble = trouble_of(code, os_error, file.c_str());
  std::string detail = connection != nullptr ? sqlite3_errmsg(connection) : sqlite3_errstr(code);
  const bool is_io = (code & 0xff) == SQLITE_IOERR || (code & 0xff) == SQLITE_CANTOPEN;
  if (is_io && os_error != 0) detail += fmt::format(" ({})", std::strerror(os_error));
  switch (trouble) {
  case Trouble::full:
    return {trouble, fmt::format("disk full: {} cannot grow; make room on its file system ({})", file, detail)};
  case Trouble::read_only:
    return {trouble,
            fmt::format("read-only: {} cannot be written; check its file system and permissions ({})", file, detail)};
  case Trouble::damaged: return {trouble, fmt::format("damaged: {}: {}", file, detail)};
  case Trouble::duplicate:
  case Trouble::other: return {trouble, fmt::format("{}: {}", file, detail)};
  }
  std::abort();
}

std::string file_of(sqlite3* connection) {
  const char* name = sqlite3_db_filename(connection, "main");
  return name != nullptr ? name : "database";
}

DbError describe(sqlite3* connection, int code) { return describe(connection, code, file_of(connection)); }

/// A path as a URI: SQLite reads '?', '#' and '%' of a URI as marks of its own.
std::string uri_of(const std::filesystem::path& file) {
  std::string uri = "file:";
  for (const char c : std::filesystem::absolute(file).string()) {
    if (c == '?' || c == '#' || c == '%')
      uri += fmt::format("%{:02X}", static_cast<unsigned>(c));
    else
      uri += c;
  }
  return uri + "?immutable=1";
}

} // namespace

void Statement::Finalize::operator()(sqlite3_stmt* statement) const { sqlite3_finalize(statement); }
void Database::Close::operator()(sqlite3* connection) const { sqlite3_close_v2(connection); }

Statement& Statement::note(int code) {
  if (code != SQLITE_OK && bind_error_ == SQLITE_OK) bind_error_ = code;
  return *this;
}
Statement& Statement::bind(int position, std::int64_t value) {
  return note(sqlite3_bind_int64(statement_.get(), position, value));
}
Statement& Statement::bind(int position, std::string_view text) {
  const char* data = text.empty() ? "" : text.data(); // a null pointer would bind NULL
  return note(sqlite3_bind_text64(statement_.get(), position, data, text.size(), nullptr, SQLITE_UTF8));
}
Statement& Statement::bind(int position, std::optional<double> value) {
  if (!value || !std::isfinite(*value)) return bind_null(position);
  return note(sqlite3_bind_double(statement_.get(), position, *value));
}
Statement& Statement::bind_null(int position) { return note(sqlite3_bind_null(statement_.get(), position)); }
Statement& Statement::bind(int position, const std::optional<std::int64_t>& value) {
  return value ? bind(position, *value) : bind_null(position);
}
Statement& Statement::bind(int position, const std::optional<std::string>& text) {
  return text ? bind(position, std::string_view{*text}) : bind_null(position);
}

tl::expected<bool, DbError> Statement::step() {
  sqlite3* connection = sqlite3_db_handle(statement_.get());
  if (bind_error_ != SQLITE_OK) return tl::unexpected(describe(connection, std::exchange(bind_error_, SQLITE_OK)));
  const int code = sqlite3_step(statement_.get());
  if (code == SQLITE_ROW) return true;
  tl::expected<bool, DbError> result = false;
  if (code != SQLITE_DONE) result = tl::unexpected(describe(connection, sqlite3_extended_errcode(connection)));
  reset();
  return result;
}

tl::expected<void, DbError> Statement::run() {
  const auto row = step();
  reset();
  if (!row) return tl::unexpected(row.error());
  return {};
}

void Statement::reset() { sqlite3_reset(statement_.get()); }

bool Statement::is_null(int column) const { return sqlite3_column_type(statement_.get(), column) == SQLITE_NULL; }
std::int64_t Statement::integer(int column) const { return sqlite3_column_int64(statement_.get(), column); }
double Statement::real(int column) const { return sqlite3_column_double(statement_.get(), column); }
std::optional<double> Statement::optional_real(int column) const {
  return is_null(column) ? std::nullopt : std::optional{real(column)};
}
std::optional<std::int64_t> Statement::optional_integer(int column) const {
  return is_null(column) ? std::nullopt : std::optional{integer(column)};
}
std::string Statement::text(int column) const {
  const void* bytes = sqlite3_column_blob(statement_.get(), column);
  const auto size = static_cast<std::size_t>(sqlite3_column_bytes(statement_.get(), column));
  return bytes == nullptr ? std::string{} : std::string{static_cast<const char*>(bytes), size};
}

std::string Statement::row_bytes() const {
  std::string bytes;
  for (int column = 0; column < sqlite3_column_count(statement_.get()); ++column) {
    switch (sqlite3_column_type(statement_.get(), column)) {
    case SQLITE_NULL: bytes += 'n'; break;
    case SQLITE_INTEGER: bytes += fmt::format("i{};", integer(column)); break;
    case SQLITE_FLOAT: bytes += fmt::format("r{:016x}", std::bit_cast<std::uint64_t>(real(column))); break;
    default: {
      const auto words = text(column);
      bytes += fmt::format("t{}:{}", words.size(), words);
    }
    }
  }
  return bytes;
}

tl::expected<Database, DbError> Database::open(const std::filesystem::path& file, Mode mode) {
  const int access = mode == Mode::create ? SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE : SQLITE_OPEN_READONLY;
  const bool fixed = mode == Mode::read_fixed;
  sqlite3* connection = nullptr;
  const int code = sqlite3_open_v2((fixed ? uri_of(file) : file.string()).c_str(), &connection,
                                   access | SQLITE_OPEN_NOMUTEX | (fixed ? SQLITE_OPEN_URI : 0), nullptr);
  Database database{connection};
  if (code != SQLITE_OK) return tl::unexpected(describe(connection, code, file.string()));
  sqlite3_extended_result_codes(connection, 1);
  sqlite3_busy_timeout(connection, 5000);
  return database;
}

tl::expected<void, DbError> Database::run(std::string_view sql) {
  const int code = sqlite3_exec(connection_.get(), std::string{sql}.c_str(), nullptr, nullptr, nullptr);
  if (code != SQLITE_OK) return tl::unexpected(describe(connection_.get(), code));
  return {};
}

tl::expected<Statement, DbError> Database::prepare(std::string_view sql) {
  sqlite3_stmt* statement = nullptr;
  const int code = sqlite3_prepare_v3(connection_.get(), sql.data(), static_cast<int>(sql.size()),
                                      SQLITE_PREPARE_PERSISTENT, &statement, nullptr);
  if (code != SQLITE_OK) return tl::unexpected(describe(connection_.get(), code));
  return Statement{statement};
}

tl::expected<std::int64_t, DbError> Database::integer(std::string_view sql) {
  auto statement = prepare(sql);
  if (!statement) return tl::unexpected(statement.error());
  if (const auto row = statement->step(); !row) return tl::unexpected(row.error());
  return statement->integer(0);
}

tl::expected<std::string, DbError> Database::text(std::string_view sql) {
  auto statement = prepare(sql);
  if (!statement) return tl::unexpected(statement.error());
  if (const auto row = statement->step(); !row) return tl::unexpected(row.error());
  return statement->text(0);
}

tl::expected<void, DbError> Database::copy_to(const std::filesystem::path& file,
                                              const std::function<void(double)>& progress) {
  constexpr int pages_at_once = 2000;
  // While this connection reads it sees one moment; SQLite would begin anew with every write of others.
  if (auto begun = run("BEGIN"); !begun) return begun;
  if (const auto read = integer("SELECT count(*) FROM sqlite_schema"); !read) return tl::unexpected(read.error());
  auto copy = open(file, Mode::create);
  if (!copy) return tl::unexpected(copy.error());
  sqlite3_backup* backup = sqlite3_backup_init(copy->connection_.get(), "main", connection_.get(), "main");
  if (backup == nullptr) return tl::unexpected(describe(copy->connection_.get(), SQLITE_ERROR));
  int code = SQLITE_OK;
  while ((code = sqlite3_backup_step(backup, pages_at_once)) == SQLITE_OK)
    progress(1.0 - static_cast<double>(sqlite3_backup_remaining(backup)) / sqlite3_backup_pagecount(backup));
  const int finished = sqlite3_backup_finish(backup);
  if (code != SQLITE_DONE || finished != SQLITE_OK)
    return tl::unexpected(describe(copy->connection_.get(), code == SQLITE_DONE ? finished : code));
  if (auto done = copy->run("PRAGMA journal_mode=DELETE"); !done) return done;
  return run("COMMIT");
}

std::int64_t Database::last_rowid() const { return sqlite3_last_insert_rowid(connection_.get()); }
std::int64_t Database::changes() const { return sqlite3_changes64(connection_.get()); }
bool Database::is_fixed() const {
  return sqlite3_uri_boolean(sqlite3_db_filename(connection_.get(), "main"), "immutable", 0) != 0;
}

tl::expected<Transaction, DbError> Transaction::begin(Database& database) {
  if (const auto begun = database.run("BEGIN IMMEDIATE"); !begun) return tl::unexpected(begun.error());
  return Transaction{database};
}

Transaction::~Transaction() {
  if (database_ == nullptr || sqlite3_get_autocommit(database_->connection_.get()) != 0) return;
  // A failing ROLLBACK means that SQLite has rolled back by itself.
  static_cast<void>(database_->run("ROLLBACK"));
}

tl::expected<void, DbError> Transaction::commit() {
  if (auto done = database_->run("COMMIT"); !done) return done;
  database_ = nullptr;
  return {};
}

} // namespace oxherd::daemon::store
