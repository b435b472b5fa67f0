#include "daemon/store/history.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <sys/stat.h>

#include "daemon/store/basis_text.hpp"
#include "daemon/store/measurements.hpp"
#include "daemon/store/schema.hpp"

namespace oxherd::daemon {
namespace {

tl::unexpected<StoreError> refused(const store::DbError& error) { return tl::unexpected(StoreError{error.what}); }

tl::expected<void, StoreError> checked(const HistoryQuery& query) {
  if (query.limit < 1 || query.limit > query_limit_max)
    return tl::unexpected(StoreError{fmt::format("a limit of {} records: give 1 to {}", query.limit, query_limit_max)});
  return {};
}

/// Turns newest-first rows, of which one too many was asked for, into the answer's order.
template <class Row> bool trim_and_turn(std::vector<Row>& rows, int limit) {
  const bool truncated = rows.size() > static_cast<std::size_t>(limit);
  if (truncated) rows.pop_back();
  std::reverse(rows.begin(), rows.end());
  return truncated;
}

/// Where the rows of the asked minutes lie; nothing when there are none.
struct RowSpan {
  std::int64_t first, last;
};
tl::expected<std::optional<RowSpan>, store::DbError> span_of(store::Database& database, const HistoryQuery& query) {
  auto marks = database.prepare("SELECT min(first), max(last) FROM reading_mark WHERE minute BETWEEN ? AND ?");
  if (!marks) return tl::unexpected(marks.error());
  const auto row = marks->bind(1, store::minute_of(query.from)).bind(2, store::minute_of(query.to)).step();
  if (!row) return tl::unexpected(row.error());
  if (marks->is_null(0)) return std::nullopt;
  return RowSpan{marks->integer(0), marks->integer(1)};
}

WallTime time_in(const store::Statement& row, int column) {
  return WallTime{std::chrono::milliseconds{row.integer(column)}};
}

std::string_view quality_named_by(std::string_view status) {
  return alarms::name_of(alarms::quality_of(alarms::status_named(status).value_or(alarms::Status::failure)));
}

StoredReading reading_in(const store::Statement& row) {
  StoredReading reading;
  reading.at = time_in(row, 0);
  reading.room = row.text(1);
  reading.sensor = row.text(2);
  reading.status = row.text(3);
  reading.quality = quality_named_by(reading.status);
  reading.reasons = row.text(4);
  reading.oxygen = row.optional_real(5);
  reading.u_oxygen = row.optional_real(6);
  reading.oxygen_wet = row.optional_real(7);
  reading.po2_Pa = row.optional_real(8);
  reading.raw_V = row.optional_real(9);
  reading.temperature_K = row.optional_real(10);
  reading.humidity = row.optional_real(11);
  reading.pressure_Pa = row.optional_real(12);
  reading.carbon_dioxide = row.optional_real(13);
  reading.derivation = row.optional_integer(14);
  reading.over_pressure_Pa = row.optional_real(16);
  reading.u_temperature_K = row.optional_real(17);
  reading.u_pressure_Pa = row.optional_real(18);
  reading.u_carbon_dioxide = row.optional_real(19);
  reading.u_over_pressure_Pa = row.optional_real(20);
  return reading;
}

/// Fails at words that this version does not know.
tl::expected<AlarmRecord, StoreError> record_in(const store::Statement& row) {
  const auto from = alarms::state_named(row.text(5));
  const auto to = alarms::state_named(row.text(6));
  const auto priority = alarms::priority_named(row.text(10));
  if (!from || !to || !priority)
    return tl::unexpected(StoreError{fmt::format("line {} of the alarm journal has words this oxherd does not know: "
                                                 "use the version that wrote it",
                                                 row.integer(0))});
  AlarmRecord record{time_in(row, 1), row.integer(0), row.text(2), row.text(3), row.text(4), *from, *to,
                     row.text(7),     row.text(8),    row.text(9), *priority,   {},          {},    {},
                     row.text(14),    row.text(15)};
  record.value = row.optional_real(11);
  record.expanded = row.optional_real(12);
  record.limit = row.optional_real(13);
  return record;
}

/// Both statements are done with afterwards, so that no moment of the journal is held fast.
tl::expected<JournalLines, StoreError> lines_in(store::Statement& last, store::Statement& rows, std::int64_t after,
                                                int most) {
  JournalLines lines;
  const auto found = last.step();
  if (!found) return refused(found.error());
  lines.last = last.integer(0);
  last.reset();
  rows.bind(1, after).bind(2, std::int64_t{most});
  for (;;) {
    const auto row = rows.step();
    if (!row) return refused(row.error());
    if (!*row) return lines;
    auto record = record_in(rows);
    if (!record) return tl::unexpected(record.error());
    lines.records.push_back(std::move(*record));
  }
}

} // namespace

tl::expected<ReadingHistory, StoreError> reading_history(const std::filesystem::path& state_dir,
                                                         const HistoryQuery& query) {
  if (const auto fine = checked(query); !fine) return tl::unexpected(fine.error());
  auto database = store::open_for_reading(state_dir, store::measurements_schema());
  if (!database) return refused(database.error());
  ReadingHistory history;
  const auto span = span_of(*database, query);
  if (!span) return refused(span.error());
  if (!*span) return history;
  // CROSS JOIN keeps this order of the tables: backwards along the rowids, so that the newest come first unsorted.
  auto rows = database->prepare(
      "SELECT r.at, s.room, s.name, iif(x.reading AND ?8, x.status, r.status), iif(x.reading AND ?8, x.reasons, "
      "r.reasons), "
      "iif(x.reading AND ?8, x.oxygen, r.oxygen), iif(x.reading AND ?8, x.u_oxygen, r.u_oxygen), iif(x.reading AND ?8, "
      "x.oxygen_wet, "
      "r.oxygen_wet), iif(x.reading AND ?8, x.po2_Pa, r.po2_Pa), r.raw_V, r.temperature_K, r.humidity, r.pressure_Pa, "
      "r.carbon_dioxide, x.derivation, r.rowid, r.over_pressure_Pa, r.u_temperature_K, r.u_pressure_Pa, "
      "r.u_carbon_dioxide, r.u_over_pressure_Pa FROM reading r CROSS JOIN sensor s ON s.id = r.sensor LEFT JOIN "
      "rederived x ON "
      "x.reading = r.rowid AND x.derivation = (SELECT max(derivation) FROM rederived WHERE reading = r.rowid) WHERE "
      "r.rowid BETWEEN ?1 AND ?2 AND r.at BETWEEN ?3 AND ?4 AND (?5 IS NULL OR s.room = ?5) AND "
      "(?6 IS NULL OR s.name = ?6) ORDER BY r.rowid DESC LIMIT ?7");
  if (!rows) return refused(rows.error());
  rows->bind(1, (*span)->first)
      .bind(2, query.before ? std::min((*span)->last, *query.before - 1) : (*span)->last)
      .bind(3, query.from.time_since_epoch().count())
      .bind(4, query.to.time_since_epoch().count())
      .bind(5, query.room)
      .bind(6, query.sensor)
      .bind(7, std::int64_t{query.limit} + 1)
      .bind(8, std::int64_t{query.as_recorded ? 0 : 1});
  for (;;) {
    const auto row = rows->step();
    if (!row) return refused(row.error());
    if (!*row) break;
    if (history.readings.size() < static_cast<std::size_t>(query.limit)) history.next = rows->integer(15);
    history.readings.push_back(reading_in(*rows));
  }
  history.truncated = trim_and_turn(history.readings, query.limit);
  if (!history.truncated) history.next.reset();
  return history;
}

tl::expected<AlarmHistory, StoreError> alarm_history(const std::filesystem::path& state_dir,
                                                     const HistoryQuery& query) {
  if (const auto fine = checked(query); !fine) return tl::unexpected(fine.error());
  auto database = store::open_for_reading(state_dir, store::journal_schema());
  if (!database) return refused(database.error());
  // Changes beneath a suppression are left out of "last normal": the alarm was still hidden then.
  constexpr std::string_view of_the_time = "j.at BETWEEN ?1 AND ?2";
  constexpr std::string_view with_what_stood =
      "(j.at BETWEEN ?1 AND ?2 OR (j.at < ?1 AND j.sequence > coalesce(q.sequence, 0)))";
  constexpr std::string_view last_normal =
      "LEFT JOIN (SELECT room, alarm, max(sequence) AS sequence FROM journal WHERE at < ?1 AND to_state = 'normal' AND "
      "event <> 'transition-suppressed' GROUP BY room, alarm) q ON q.room = j.room AND q.alarm = j.alarm ";
  // Only what is asked for stands in the query: with "or nothing is asked for" it would use no index.
  auto rows = database->prepare(
      fmt::format("SELECT j.* FROM journal j {}WHERE {}{}{}{}{} ORDER BY j.sequence DESC LIMIT ?7",
                  query.with_standing ? last_normal : "", query.with_standing ? with_what_stood : of_the_time,
                  query.room ? " AND j.room = ?3" : "", query.alarm ? " AND j.alarm = ?4" : "",
                  query.alarm_prefix.empty() ? "" : " AND j.alarm >= ?5 AND j.alarm < ?6",
                  query.before ? " AND j.sequence < ?8" : ""));
  if (!rows) return refused(rows.error());
  std::string behind_prefix = query.alarm_prefix;
  if (!behind_prefix.empty()) ++behind_prefix.back();
  rows->bind(1, query.from.time_since_epoch().count())
      .bind(2, query.to.time_since_epoch().count())
      .bind(3, query.room)
      .bind(4, query.alarm)
      .bind(5, std::string_view{query.alarm_prefix})
      .bind(6, std::string_view{behind_prefix})
      .bind(7, std::int64_t{query.limit} + 1);
  if (query.before) rows->bind(8, *query.before);
  AlarmHistory history;
  for (;;) {
    const auto row = rows->step();
    if (!row) return refused(row.error());
    if (!*row) break;
    auto record = record_in(*rows);
    if (!record) return tl::unexpected(record.error());
    history.records.push_back(std::move(*record));
  }
  history.truncated = trim_and_turn(history.records, query.limit);
  if (history.truncated) history.next = history.records.front().sequence;
  return history;
}

struct JournalReader::Opened {
  store::Database database;
  store::Statement last, lines;
  struct stat file {}; ///< its device and number tell whether the name still means it
};

JournalReader::JournalReader(std::filesystem::path state_dir) : state_dir_{std::move(state_dir)} {}
JournalReader::~JournalReader() = default;
JournalReader::JournalReader(JournalReader&&) noexcept = default;
JournalReader& JournalReader::operator=(JournalReader&&) noexcept = default;

tl::expected<void, StoreError> JournalReader::open() {
  struct stat now {};
  const auto name = state_dir_ / store::journal_schema().file_name;
  const bool there = ::stat(name.c_str(), &now) == 0;
  if (opened_ && there && opened_->file.st_dev == now.st_dev && opened_->file.st_ino == now.st_ino) return {};
  opened_.reset();
  auto database = store::open_for_reading(state_dir_, store::journal_schema());
  if (!database) return refused(database.error());
  auto last = database->prepare("SELECT coalesce(max(sequence), 0) FROM journal");
  if (!last) return refused(last.error());
  auto lines = database->prepare("SELECT * FROM journal WHERE sequence > ? ORDER BY sequence LIMIT ?");
  if (!lines) return refused(lines.error());
  // One that was replaced since it was looked at is found to be another next time.
  opened_ = std::make_unique<Opened>(Opened{std::move(*database), std::move(*last), std::move(*lines), now});
  return {};
}

tl::expected<JournalLines, StoreError> JournalReader::after(std::int64_t after, int most) {
  if (auto opened = open(); !opened) return tl::unexpected(opened.error());
  auto read = lines_in(opened_->last, opened_->lines, after, most);
  if (!read || opened_->database.is_fixed()) opened_.reset();
  return read;
}

tl::expected<JournalLines, StoreError> journal_after(const std::filesystem::path& state_dir, std::int64_t after,
                                                     int most) {
  return JournalReader{state_dir}.after(after, most);
}

tl::expected<bool, StoreError> knows_room(const std::filesystem::path& state_dir, const std::string& room) {
  auto database = store::open_for_reading(state_dir, store::measurements_schema());
  if (!database) return refused(database.error());
  auto rows = database->prepare("SELECT 1 FROM sensor WHERE room = ? LIMIT 1");
  if (!rows) return refused(rows.error());
  const auto row = rows->bind(1, std::string_view{room}).step();
  if (!row) return refused(row.error());
  return *row;
}

tl::expected<std::vector<std::int64_t>, StoreError> recorded_minutes(const std::filesystem::path& state_dir,
                                                                     WallTime from, WallTime to) {
  auto database = store::open_for_reading(state_dir, store::measurements_schema());
  if (!database) return refused(database.error());
  auto rows = database->prepare("SELECT minute FROM reading_mark WHERE minute BETWEEN ? AND ? ORDER BY minute");
  if (!rows) return refused(rows.error());
  rows->bind(1, store::minute_of(from)).bind(2, store::minute_of(to));
  std::vector<std::int64_t> minutes;
  for (;;) {
    const auto row = rows->step();
    if (!row) return refused(row.error());
    if (!*row) return minutes;
    minutes.push_back(rows->integer(0));
  }
}

} // namespace oxherd::daemon
