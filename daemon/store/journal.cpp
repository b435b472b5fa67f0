#include "daemon/store/journal.hpp"

#include <algorithm>
#include <chrono>

#include <fmt/core.h>

#include "daemon/log.hpp"
#include "daemon/store/salvage.hpp"
#include "daemon/store/schema.hpp"

namespace oxherd::daemon::store {
namespace {

using std::chrono::milliseconds;

std::int64_t ms_of(WallTime t) { return t.time_since_epoch().count(); }

std::optional<std::int64_t> end_of(const std::optional<WallTime>& until, const std::optional<alarms::Monotonic>& left,
                                   WallTime at) {
  if (until) return ms_of(*until);
  if (left) return ms_of(at + *left);
  return std::nullopt;
}

/// What is left of a suppression; a civil clock that went back must not prolong it beyond what it was at `since`.
std::optional<alarms::Monotonic> left_of(const std::optional<WallTime>& until, WallTime since, WallTime now) {
  if (!until) return std::nullopt;
  return std::max(milliseconds{0}, *until - std::max(now, since));
}

std::optional<WallTime> wall_time(std::optional<std::int64_t> ms) {
  return ms ? std::optional{WallTime{milliseconds{*ms}}} : std::nullopt;
}

AlarmSnapshot snapshot_in(const Statement& row, WallTime now) {
  AlarmSnapshot alarm;
  alarm.room = row.text(0);
  alarm.alarm = row.text(1);
  alarm.recorded.present = row.integer(3) != 0;
  alarm.recorded.tripped_while_suppressed = row.integer(4) != 0;
  alarm.since = WallTime{milliseconds{row.integer(5)}};
  alarm.shelved_until = wall_time(row.optional_integer(6));
  alarm.out_of_service_until = wall_time(row.optional_integer(7));
  alarm.recorded.age = std::max(milliseconds{0}, now - alarm.since);
  alarm.recorded.shelved_remaining = left_of(alarm.shelved_until, alarm.since, now);
  alarm.recorded.out_of_service_remaining = left_of(alarm.out_of_service_until, alarm.since, now);
  if (const auto beneath = alarms::state_named(row.text(2))) {
    alarm.recorded.beneath = *beneath;
  } else { // cannot be left out: an alarm nobody acknowledged would be gone
    log::error("{}/{}: unknown alarm state \"{}\" in the journal, taken as unacknowledged", alarm.room, alarm.alarm,
               row.text(2));
    alarm.recorded.beneath = alarms::State::unacknowledged;
    alarm.recorded.present = true;
  }
  return alarm;
}

/// Columns from `first` on, in the order of the table calibration_point.
compensation::CalibrationPoint point_in(const Statement& row, int first) {
  const auto pair = [&]<class Q>(Uncertain<Q>& out, int column) {
    out = {Q::from_si(row.real(first + column)), row.real(first + column + 1)};
  };
  compensation::CalibrationPoint point;
  pair(point.signal, 0);
  pair(point.oxygen, 2);
  pair(point.gas.temperature, 4);
  pair(point.gas.humidity, 6);
  if (!row.is_null(first + 8)) pair(point.gas.humidity_temperature.emplace(), 8);
  pair(point.gas.pressure, 10);
  return point;
}

} // namespace

tl::expected<Journal, DbError> Journal::prepared(Database database) {
  constexpr std::string_view line = "INSERT INTO journal VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)";
  constexpr std::string_view next_line = "INSERT INTO journal SELECT max(sequence)+1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,"
                                         "?12,?13,?14,?15,?16 FROM journal";
  const std::string_view sql[] = {line, next_line, "REPLACE INTO alarm_state VALUES(?,?,?,?,?,?,?,?)",
                                  "INSERT INTO calibration VALUES(NULL,?,?,?,?,?,?,?,?)",
                                  "INSERT INTO calibration_point VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?)"};
  std::vector<Statement> made;
  for (const auto text : sql) {
    auto statement = database.prepare(text);
    if (!statement) return tl::unexpected(statement.error());
    made.push_back(std::move(*statement));
  }
  return Journal{std::move(database), Statements{std::move(made[0]), std::move(made[1]), std::move(made[2]),
                                                 std::move(made[3]), std::move(made[4])}};
}

tl::expected<Journal, DbError> Journal::open(const std::filesystem::path& state_dir) {
  auto opened = open_file(state_dir, journal_schema());
  if (!opened) return tl::unexpected(opened.error());
  if (!opened->set_aside.empty()) salvage_journal(opened->database, opened->set_aside);
  return prepared(std::move(opened->database));
}

tl::expected<Journal, DbError> Journal::replace(const std::filesystem::path& state_dir) {
  auto opened = replace_file(state_dir, journal_schema());
  if (!opened) return tl::unexpected(opened.error());
  salvage_journal(opened->database, opened->set_aside);
  return prepared(std::move(opened->database));
}

tl::expected<void, DbError> Journal::write(std::span<const Queued<AlarmRow>> rows) {
  auto transaction = Transaction::begin(database_);
  if (!transaction) return tl::unexpected(transaction.error());
  for (const auto& queued : rows) {
    if (auto done = write_line(queued.row.record); !done) return done;
    if (auto done = write_state(queued.row); !done) return done;
  }
  return transaction->commit();
}

tl::expected<void, DbError> Journal::write_line(const AlarmRecord& record) {
  const auto bound = [&](Statement& line) -> Statement& {
    return line.bind(2, ms_of(record.at))
        .bind(3, std::string_view{record.room})
        .bind(4, std::string_view{record.alarm})
        .bind(5, std::string_view{record.event})
        .bind(6, alarms::name_of(record.from))
        .bind(7, alarms::name_of(record.to))
        .bind(8, std::string_view{record.cause})
        .bind(9, std::string_view{record.author})
        .bind(10, std::string_view{record.comment})
        .bind(11, alarms::name_of(record.priority))
        .bind(12, record.value)
        .bind(13, record.expanded)
        .bind(14, record.limit)
        .bind(15, std::string_view{record.unit})
        .bind(16, std::string_view{record.text});
  };
  auto done = bound(statements_.line).bind(1, record.sequence).run();
  if (done || done.error().trouble != Trouble::duplicate) return done;
  // A line must not be lost, nor hold up those behind it, because its number was given twice.
  log::error("alarm journal: sequence number {} of {}/{} is taken, the next free one is used", record.sequence,
             record.room, record.alarm);
  return bound(statements_.next_line).run();
}

tl::expected<void, DbError> Journal::write_state(const AlarmRow& row) {
  const auto& [record, alarm] = row;
  if (alarm.alarm.empty()) return {}; // a line about no alarm of its own, such as a restart
  return statements_.state.bind(1, std::string_view{alarm.room})
      .bind(2, std::string_view{alarm.alarm})
      .bind(3, alarms::name_of(alarm.recorded.beneath))
      .bind(4, std::int64_t{alarm.recorded.present})
      .bind(5, std::int64_t{alarm.recorded.tripped_while_suppressed})
      .bind(6, ms_of(alarm.since))
      .bind(7, end_of(alarm.shelved_until, alarm.recorded.shelved_remaining, record.at))
      .bind(8, end_of(alarm.out_of_service_until, alarm.recorded.out_of_service_remaining, record.at))
      .run();
}

tl::expected<void, DbError> Journal::add(const StoredCalibration& stored) {
  auto transaction = Transaction::begin(database_);
  if (!transaction) return tl::unexpected(transaction.error());
  const auto& calibration = stored.calibration;
  auto done = statements_.calibration.bind(1, ms_of(stored.at))
                  .bind(2, std::string_view{stored.room})
                  .bind(3, std::string_view{stored.sensor})
                  .bind(4, std::string_view{stored.serial})
                  .bind(5, std::string_view{stored.by})
                  .bind(6, std::string_view{stored.comment})
                  .bind(7, calibration.zero.value.si())
                  .bind(8, calibration.zero.u_si)
                  .run();
  if (!done) return done;
  const std::int64_t id = database_.last_rowid();
  if (done = write_point(id, "span", calibration.span); !done) return done;
  if (calibration.low)
    if (done = write_point(id, "low", *calibration.low); !done) return done;
  return transaction->commit();
}

tl::expected<void, DbError> Journal::write_point(std::int64_t calibration, std::string_view point,
                                                 const compensation::CalibrationPoint& values) {
  Statement& insert = statements_.point;
  const auto pair = [&](int position, const auto& uncertain) {
    insert.bind(position, uncertain.value.si()).bind(position + 1, uncertain.u_si);
  };
  insert.bind(1, calibration).bind(2, point).bind_null(11).bind_null(12);
  pair(3, values.signal);
  pair(5, values.oxygen);
  pair(7, values.gas.temperature);
  pair(9, values.gas.humidity);
  if (values.gas.humidity_temperature) pair(11, *values.gas.humidity_temperature);
  pair(13, values.gas.pressure);
  return insert.run();
}

tl::expected<Remembered, DbError> Journal::remembered(WallTime now) {
  Remembered result;
  const auto last = database_.integer("SELECT coalesce(max(sequence), 0) FROM journal");
  if (!last) return tl::unexpected(last.error());
  result.last_sequence = *last;
  auto rows = database_.prepare("SELECT room, alarm, beneath, present, tripped_while_suppressed, since, shelved_until, "
                                "out_of_service_until FROM alarm_state");
  if (!rows) return tl::unexpected(rows.error());
  for (;;) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return result;
    result.alarms.push_back(snapshot_in(*rows, now));
  }
}

tl::expected<std::vector<StoredCalibration>, DbError> newest_calibrations(Database& journal) {
  constexpr std::string_view point = "p.signal_V, p.u_signal_V, p.oxygen, p.u_oxygen, p.temperature_K, "
                                     "p.u_temperature_K, p.humidity, p.u_humidity, p.humidity_temperature_K, "
                                     "p.u_humidity_temperature_K, p.pressure_Pa, p.u_pressure_Pa";
  // One row per point, "span" before "low"; later times win, of equal times the one recorded last.
  auto rows = journal.prepare(
      fmt::format("SELECT c.id, c.at, c.room, c.sensor, c.serial, c.author, c.comment, c.zero_V, c.u_zero_V, p.point, "
                  "{} FROM (SELECT *, row_number() OVER (PARTITION BY room, sensor, serial ORDER BY at DESC, id DESC) "
                  "AS rank FROM calibration) c JOIN calibration_point p ON p.calibration = c.id WHERE c.rank = 1 "
                  "ORDER BY c.at, c.id, p.point DESC",
                  point));
  if (!rows) return tl::unexpected(rows.error());
  std::vector<StoredCalibration> result;
  for (;;) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return result;
    if (rows->text(9) == "low") {
      result.back().calibration.low = point_in(*rows, 10);
      continue;
    }
    StoredCalibration stored{WallTime{milliseconds{rows->integer(1)}},
                             rows->text(2),
                             rows->text(3),
                             rows->text(4),
                             rows->text(5),
                             rows->text(6),
                             {}};
    stored.calibration.span = point_in(*rows, 10);
    stored.calibration.zero = {Signal::from_si(rows->real(7)), rows->real(8)};
    result.push_back(std::move(stored));
  }
}

} // namespace oxherd::daemon::store
