#include "daemon/mqtt/spool.hpp"

#include <algorithm>
#include <array>
#include <limits>
#include <utility>

#include <fmt/core.h>
#include <sys/statvfs.h>

#include "daemon/log.hpp"
#include "daemon/store/schema.hpp"

namespace oxherd::daemon {
namespace {

using store::DbError;
using store::Transaction;
using store::Trouble;
using Done = tl::expected<void, DbError>;

// The number of rows is kept beside them: counting a million rows reads the whole file.
constexpr std::array<std::string_view, 1> spool_steps{R"sql(
CREATE TABLE message(sequence INTEGER PRIMARY KEY, topic TEXT NOT NULL, payload TEXT NOT NULL) STRICT;
CREATE TABLE kept(one INTEGER PRIMARY KEY CHECK(one = 1), messages INTEGER NOT NULL, journal_cursor INTEGER) STRICT;
INSERT INTO kept VALUES(1, 0, NULL);
)sql"};

const store::Schema& spool_schema() {
  // NORMAL: what a power cut costs is repeated or lost within the bound; a killed program loses nothing written.
  static constexpr store::Schema schema{"mqtt.sqlite", 0x4f786851, "NORMAL", spool_steps};
  return schema;
}

/// Twice what the store keeps in reserve for alarm records: that must find its room again.
constexpr unsigned long long left_for_alarms_bytes = 16ULL << 20U;

/// A disk that damages every new file must not be filled with files set aside.
constexpr int replacements_max = 3;

/// Free pages worth giving back once nothing waits.
constexpr std::int64_t free_pages_max = 4096;

Done enough_room(const std::filesystem::path& dir) {
  struct statvfs space {};
  if (::statvfs(dir.c_str(), &space) != 0 || space.f_bavail * space.f_frsize >= left_for_alarms_bytes) return {};
  return tl::unexpected(DbError{Trouble::full, fmt::format("disk full: less than 16 MiB are free in {}, which are left "
                                                           "to the alarm journal; make room on its file system",
                                                           dir.string())});
}

/// Empty when none was ever noted, or what is there cannot be read.
std::optional<std::int64_t> cursor_in(store::Database& database) {
  auto kept = database.prepare("SELECT journal_cursor FROM kept");
  if (!kept) return std::nullopt;
  const auto row = kept->step();
  return row && *row ? kept->optional_integer(0) : std::nullopt;
}

} // namespace

Done Spool::open() {
  if (database_) return {};
  auto opened = store::open_file(dir_, spool_schema());
  if (!opened) return tl::unexpected(opened.error());
  const bool begun_anew = !opened->set_aside.empty();
  if (begun_anew)
    if (auto old = store::Database::open(opened->set_aside, store::Database::Mode::read)) cursor_ = cursor_in(*old);
  if (begun_anew && !cursor_)
    log::error("mqtt: how far the broker had the alarm journal is lost with {}; it is told from here on",
               opened->set_aside.string());
  if (auto done = take_over(std::move(opened->database)); !done) return done;
  return begun_anew && cursor_ ? keep_cursor(*cursor_) : Done{};
}

/// Nobody else may write it: sequence numbers are given once.
Done Spool::take_over(store::Database database) {
  if (auto done = database.run("PRAGMA locking_mode=EXCLUSIVE"); !done) return done;
  auto transaction = Transaction::begin(database);
  if (!transaction) return tl::unexpected(transaction.error());
  const auto greatest = database.integer("SELECT coalesce(max(sequence), 0) FROM message");
  if (!greatest) return tl::unexpected(greatest.error());
  const auto count = database.integer("SELECT messages FROM kept");
  if (!count) return tl::unexpected(count.error());
  const auto cursor = cursor_in(database);
  if (auto done = transaction->commit(); !done) return done;
  if (!base_) base_ = *greatest;
  count_ = *count;
  if (cursor) cursor_ = cursor;
  database_.emplace(std::move(database));
  return {};
}

Done Spool::replace() {
  log::error("mqtt: {} measurements that waited for the broker are lost with their file", count_);
  database_.reset(); // first: closing removes the -wal file of the old name
  dropped_ += static_cast<std::uint64_t>(std::exchange(count_, 0));
  auto fresh = store::replace_file(dir_, spool_schema());
  if (!fresh) return tl::unexpected(fresh.error());
  if (auto done = take_over(std::move(fresh->database)); !done) return done;
  return cursor_ ? keep_cursor(*cursor_) : Done{};
}

template <class Action> auto Spool::attempt(Action action) -> decltype(action()) {
  if (auto opened = open(); !opened) return tl::unexpected(opened.error());
  auto done = action();
  if (done || done.error().trouble != Trouble::damaged || replaced_++ >= replacements_max) return done;
  if (auto replaced = replace(); !replaced) return tl::unexpected(replaced.error());
  return action();
}

std::int64_t Spool::on_disk(std::int64_t sequence) const {
  const auto least = std::numeric_limits<std::int64_t>::min();
  return sequence == least ? least : sequence + *base_;
}

Done Spool::put(std::span<const QueuedMessage> messages) {
  return attempt([&]() -> Done {
    if (auto room = enough_room(dir_); !room) return room;
    auto transaction = Transaction::begin(*database_);
    if (!transaction) return tl::unexpected(transaction.error());
    auto insert = database_->prepare("INSERT INTO message VALUES(?, ?, ?)");
    if (!insert) return tl::unexpected(insert.error());
    for (const auto& m : messages) {
      insert->bind(1, on_disk(m.sequence)).bind(2, std::string_view{m.topic}).bind(3, std::string_view{m.payload});
      if (auto done = insert->run(); !done) return done;
    }
    const auto count = count_ + static_cast<std::int64_t>(messages.size());
    const auto gone = drop_oldest(count - rows_max_);
    if (!gone) return tl::unexpected(gone.error());
    if (auto done = note_count(count - *gone); !done) return done;
    if (auto done = transaction->commit(); !done) return done;
    count_ = count - *gone;
    dropped_ += static_cast<std::uint64_t>(*gone);
    return {};
  });
}

tl::expected<std::int64_t, DbError> Spool::drop_oldest(std::int64_t excess) {
  if (excess <= 0) return 0;
  auto remove = database_->prepare("DELETE FROM message WHERE sequence <= (SELECT sequence FROM message "
                                   "ORDER BY sequence LIMIT 1 OFFSET ?)");
  if (!remove) return tl::unexpected(remove.error());
  if (auto done = remove->bind(1, excess - 1).run(); !done) return tl::unexpected(done.error());
  return database_->changes();
}

Done Spool::note_count(std::int64_t count) {
  auto update = database_->prepare("UPDATE kept SET messages = ?");
  if (!update) return tl::unexpected(update.error());
  return update->bind(1, count).run();
}

Done Spool::settle(std::int64_t up_to) {
  return attempt([&]() -> Done {
    if (count_ == 0) return {};
    auto transaction = Transaction::begin(*database_);
    if (!transaction) return tl::unexpected(transaction.error());
    auto remove = database_->prepare("DELETE FROM message WHERE sequence <= ?");
    if (!remove) return tl::unexpected(remove.error());
    if (auto done = remove->bind(1, on_disk(up_to)).run(); !done) return done;
    const auto gone = database_->changes();
    if (gone == 0) return {};
    if (auto done = note_count(count_ - gone); !done) return done;
    if (auto done = transaction->commit(); !done) return done;
    count_ -= gone;
    if (count_ > 0) return {};
    const auto free_pages = database_->integer("PRAGMA freelist_count");
    if (free_pages && *free_pages > free_pages_max) static_cast<void>(database_->run("VACUUM")); // else a larger file
    return {};
  });
}

tl::expected<DiskOutcome::Rows, DbError> Spool::read(std::int64_t after, std::size_t most) {
  return attempt([&]() -> tl::expected<DiskOutcome::Rows, DbError> {
    DiskOutcome::Rows rows{after, {}, true};
    auto found = database_->prepare("SELECT * FROM message WHERE sequence > ? ORDER BY sequence LIMIT ?");
    if (!found) return tl::unexpected(found.error());
    found->bind(1, on_disk(after)).bind(2, static_cast<std::int64_t>(most) + 1);
    for (;;) {
      const auto row = found->step();
      if (!row) return tl::unexpected(row.error());
      if (!*row) return rows;
      if (rows.messages.size() == most) break;
      rows.messages.push_back({found->integer(0) - *base_, found->text(1), found->text(2)});
    }
    rows.all = false;
    return rows;
  });
}

/// The first one of a file is brought to the disk at once. A power cut would take it away with all that was never
/// synchronised, and the next start would begin at the journal's end of then, past the lines that wait.
Done Spool::keep_cursor(std::int64_t sequence) {
  return attempt([&]() -> Done {
    const auto first = database_->integer("SELECT journal_cursor IS NULL FROM kept");
    if (!first) return tl::unexpected(first.error());
    auto update = database_->prepare("UPDATE kept SET journal_cursor = ?");
    if (!update) return tl::unexpected(update.error());
    if (auto done = update->bind(1, sequence).run(); !done) return done;
    cursor_ = sequence;
    return *first != 0 ? database_->run("PRAGMA wal_checkpoint(FULL)") : Done{};
  });
}

} // namespace oxherd::daemon
