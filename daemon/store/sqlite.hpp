#pragma once

#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

struct sqlite3;
struct sqlite3_stmt;

namespace oxherd::daemon::store {

/// What a person can do something about, told apart from SQLite's and the system's codes.
enum class Trouble {
  other,
  full,      ///< no space, quota used up or file size limit
  read_only, ///< the file or its file system cannot be written
  damaged,   ///< not a database, or a page that contradicts itself
  duplicate  ///< a key that is there already
};

struct DbError {
  Trouble trouble = Trouble::other;
  std::string what; ///< words for the log: "disk full: /var/lib/oxherd/journal.sqlite cannot grow; ..."
};

/// A compiled statement. Used by one thread at a time. Texts are bound without a copy: they must live until the step.
class Statement {
public:
  Statement& bind(int position, std::int64_t value);
  Statement& bind(int position, std::string_view text);
  /// A value that is absent or not finite is bound as NULL: SQLite would turn NaN into NULL anyway, and a JSON reader
  /// knows neither NaN nor infinity.
  Statement& bind(int position, std::optional<double> value);
  Statement& bind(int position, double value) { return bind(position, std::optional<double>{value}); }
  Statement& bind_null(int position);
  Statement& bind(int position, const std::optional<std::int64_t>& value);
  Statement& bind(int position, const std::optional<std::string>& text);

  /// True when a row stands ready. After false or an error the statement is reset and can be bound again.
  [[nodiscard]] tl::expected<bool, DbError> step();
  /// Runs a statement of which no row is wanted.
  [[nodiscard]] tl::expected<void, DbError> run();
  void reset();

  [[nodiscard]] bool is_null(int column) const;
  [[nodiscard]] std::int64_t integer(int column) const;
  [[nodiscard]] double real(int column) const;
  [[nodiscard]] std::optional<double> optional_real(int column) const;
  [[nodiscard]] std::optional<std::int64_t> optional_integer(int column) const;
  [[nodiscard]] std::string text(int column) const;
  /// All values of the row with their types, so that two rows that differ anywhere differ here: "n" for NULL,
  /// "i-12;" for integers, "r" and the sixteen hexadecimal digits of a double, "t4:room" for texts with their bytes.
  [[nodiscard]] std::string row_bytes() const;

private:
  friend class Database;
  struct Finalize {
    void operator()(sqlite3_stmt* statement) const;
  };
  explicit Statement(sqlite3_stmt* statement) : statement_{statement} {}
  Statement& note(int code);

  std::unique_ptr<sqlite3_stmt, Finalize> statement_;
  int bind_error_ = 0;
};

/// One connection. Used by one thread at a time.
class Database {
public:
  enum class Mode {
    create,    ///< read and write; made when missing
    read,      ///< beside a writer or without one
    read_fixed ///< read-only and nobody writes: needs neither -wal nor -shm, so works in a directory one cannot write
  };
  [[nodiscard]] static tl::expected<Database, DbError> open(const std::filesystem::path& file, Mode mode);

  [[nodiscard]] tl::expected<void, DbError> run(std::string_view sql); ///< one or more statements, no rows wanted
  [[nodiscard]] tl::expected<Statement, DbError> prepare(std::string_view sql);
  [[nodiscard]] tl::expected<std::int64_t, DbError> integer(std::string_view sql); ///< first column of the first row
  [[nodiscard]] tl::expected<std::string, DbError> text(std::string_view sql);     ///< likewise
  /// Copies the database as it is now into a new file, page by page: row numbers stay. Others may write meanwhile; what
  /// they write is not in the copy. The copy is one file, without a log beside it.
  /// @param progress  called now and then with the part that is done, 0 to 1
  [[nodiscard]] tl::expected<void, DbError> copy_to(const std::filesystem::path& file,
                                                    const std::function<void(double)>& progress);
  [[nodiscard]] std::int64_t last_rowid() const;
  [[nodiscard]] std::int64_t changes() const;
  [[nodiscard]] bool is_fixed() const; ///< opened so: what others write is never seen

private:
  friend class Transaction;
  struct Close {
    void operator()(sqlite3* connection) const;
  };
  explicit Database(sqlite3* connection) : connection_{connection} {}

  std::unique_ptr<sqlite3, Close> connection_;
};

/// A write transaction: BEGIN IMMEDIATE, because a transaction that starts as a reader is refused at once when another
/// connection has written since. Rolls back unless committed: after "disk full" SQLite leaves it open.
class Transaction {
public:
  [[nodiscard]] static tl::expected<Transaction, DbError> begin(Database& database);
  Transaction(Transaction&& other) noexcept : database_{std::exchange(other.database_, nullptr)} {}
  Transaction& operator=(Transaction&&) = delete;
  Transaction(const Transaction&) = delete;
  Transaction& operator=(const Transaction&) = delete;
  ~Transaction();

  [[nodiscard]] tl::expected<void, DbError> commit();

private:
  explicit Transaction(Database& database) : database_{&database} {}
  Database* database_; ///< null once committed or moved from
};

} // namespace oxherd::daemon::store
