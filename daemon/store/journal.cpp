#include "daemon/store/journal.hpp"

#include <algorithm>
#include <chrono>
#include <map>
#include <string>

#include <fmt/core.h>

#include "daemon/calibration/record_json.hpp"
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

std::optional<std::int64_t> optional_ms(const std::optional<WallTime>& t) {
  return t ? std::optional{ms_of(*t)} : std::nullopt;
}

std::optional<WallTime> wall_time(std::optional<std::int64_t> ms) {
  return ms ? std::optional{WallTime{milliseconds{*ms}}} : std::nullopt;
}

/// What a version showed that did not write it down.
alarms::State shown_of(const alarms::Recorded& recorded) {
  if (recorded.out_of_service_remaining) return alarms::State::out_of_service;
  return recorded.shelved_remaining ? alarms::State::shelved : recorded.beneath;
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
  alarm.shelved = {row.text(8), row.text(9)};
  alarm.recorded.shelved_once = row.integer(10) != 0;
  alarm.out_of_service = {row.text(11), row.text(12)};
  alarm.first_out = row.integer(13) != 0;
  alarm.decided_since = wall_time(row.optional_integer(14));
  alarm.raised = wall_time(row.optional_integer(15));
  alarm.returned = wall_time(row.optional_integer(16));
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
  alarm.shown = alarms::state_named(row.text(17)).value_or(shown_of(alarm.recorded));
  return alarm;
}

} // namespace

tl::expected<Journal, DbError> Journal::prepared(Database database) {
  if (const auto linked = link_what_is_there(database); !linked) return tl::unexpected(linked.error());
  auto chain = Chain::prepared(database);
  if (!chain) return tl::unexpected(chain.error());
  constexpr std::string_view line = "INSERT INTO journal VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)";
  constexpr std::string_view next_line = "INSERT INTO journal SELECT max(sequence)+1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,"
                                         "?12,?13,?14,?15,?16 FROM journal";
  const std::string_view sql[] = {line, next_line,
                                  "REPLACE INTO alarm_state VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
                                  "INSERT INTO calibration_record VALUES(NULL,?,?,?,?,?,?,?,?)"};
  std::vector<Statement> made;
  for (const auto text : sql) {
    auto statement = database.prepare(text);
    if (!statement) return tl::unexpected(statement.error());
    made.push_back(std::move(*statement));
  }
  return Journal{std::move(database),
                 Statements{std::move(made[0]), std::move(made[1]), std::move(made[2]), std::move(made[3])},
                 std::move(*chain)};
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
  if (done) return chain_.add(LinkKind::journal, record.sequence);
  if (done.error().trouble != Trouble::duplicate) return done;
  // A line must not be lost, nor hold up those behind it, because its number was given twice.
  log::error("alarm journal: sequence number {} of {}/{} is taken, the next free one is used", record.sequence,
             record.room, record.alarm);
  done = bound(statements_.next_line).run();
  return done ? chain_.add(LinkKind::journal, database_.last_rowid()) : done;
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
      .bind(9, std::string_view{alarm.shelved.by})
      .bind(10, std::string_view{alarm.shelved.reason})
      .bind(11, std::int64_t{alarm.recorded.shelved_once})
      .bind(12, std::string_view{alarm.out_of_service.by})
      .bind(13, std::string_view{alarm.out_of_service.reason})
      .bind(14, std::int64_t{alarm.first_out})
      .bind(15, optional_ms(alarm.decided_since))
      .bind(16, optional_ms(alarm.raised))
      .bind(17, optional_ms(alarm.returned))
      .bind(18, alarms::name_of(alarm.shown))
      .run();
}

tl::expected<std::int64_t, DbError> Journal::add(const CalibrationRecord& record) {
  auto transaction = Transaction::begin(database_);
  if (!transaction) return tl::unexpected(transaction.error());
  const std::string text = to_json(record);
  const auto done = statements_.calibration.bind(1, std::string_view{record.room})
                        .bind(2, std::string_view{record.sensor})
                        .bind(3, std::string_view{record.serial})
                        .bind(4, name_of(record.act))
                        .bind(5, ms_of(record.performed))
                        .bind(6, ms_of(record.recorded))
                        .bind(7, std::string_view{record.author})
                        .bind(8, std::string_view{text})
                        .run();
  if (!done) return tl::unexpected(done.error());
  const std::int64_t number = database_.last_rowid();
  if (const auto linked = chain_.add(LinkKind::calibration, number); !linked) return tl::unexpected(linked.error());
  if (const auto committed = transaction->commit(); !committed) return tl::unexpected(committed.error());
  return number;
}

namespace {

/// What was last said of the regime of each room, and whether its seal was broken after that.
tl::expected<std::vector<RegimeStatement>, DbError> regimes_in(Database& journal) {
  auto rows = journal.prepare("SELECT room, event, cause, at, author, comment FROM journal WHERE alarm = '' AND "
                              "event IN (?1, ?2, ?3) ORDER BY sequence");
  if (!rows) return tl::unexpected(rows.error());
  rows->bind(1, std::string_view{regime_event})
      .bind(2, std::string_view{opened_event})
      .bind(3, std::string_view{people_seen_event});
  std::map<std::string, RegimeStatement> last;
  for (;;) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) break;
    auto& statement = last[rows->text(0)];
    statement.room = rows->text(0);
    if (rows->text(1) != regime_event) {
      statement.broken = true;
      statement.regime = alarms::Regime::sealed_low_oxygen; // or it would not have been told
      continue;
    }
    const auto regime = alarms::regime_named(rows->text(2));
    if (!regime) {
      log::error("{}: unknown regime \"{}\" in the journal, left out", rows->text(0), rows->text(2));
      continue;
    }
    statement = {rows->text(0), *regime, WallTime{milliseconds{rows->integer(3)}}, rows->text(4), rows->text(5), false};
  }
  std::vector<RegimeStatement> statements;
  for (auto& [room, statement] : last) statements.push_back(std::move(statement));
  return statements;
}

} // namespace

tl::expected<Remembered, DbError> Journal::remembered(WallTime now) {
  Remembered result;
  auto regimes = regimes_in(database_);
  if (!regimes) return tl::unexpected(regimes.error());
  result.regimes = std::move(*regimes);
  const auto last = database_.integer("SELECT coalesce(max(sequence), 0) FROM journal");
  if (!last) return tl::unexpected(last.error());
  result.last_sequence = *last;
  auto rows =
      database_.prepare("SELECT room, alarm, beneath, present, tripped_while_suppressed, since, shelved_until, "
                        "out_of_service_until, shelved_by, shelved_because, shelved_once, out_of_service_by, "
                        "out_of_service_because, first_out, decided_since, raised, returned, shown FROM alarm_state");
  if (!rows) return tl::unexpected(rows.error());
  for (;;) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return result;
    result.alarms.push_back(snapshot_in(*rows, now));
  }
}

tl::expected<std::vector<CalibrationRecord>, DbError> calibrations_in(Database& journal) {
  auto rows = journal.prepare("SELECT number, record FROM calibration_record ORDER BY number");
  if (!rows) return tl::unexpected(rows.error());
  std::vector<CalibrationRecord> records;
  for (;;) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return records;
    auto record = record_from_json(rows->text(1));
    if (!record)
      return tl::unexpected(DbError{
          Trouble::other, fmt::format("calibration record {} cannot be read: {}", rows->integer(0), record.error())});
    record->number = rows->integer(0);
    records.push_back(std::move(*record));
  }
}

} // namespace oxherd::daemon::store
