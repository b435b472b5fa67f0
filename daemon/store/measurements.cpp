#include "daemon/store/measurements.hpp"

#include <cmath>

#include <fmt/core.h>

#include "daemon/store/rollup.hpp"
#include "daemon/store/schema.hpp"

namespace oxherd::daemon::store {
namespace {

constexpr std::int64_t rows_pruned_at_once = 20000;

std::optional<double> beside(const std::optional<double>& value, double u) {
  return value ? std::optional{u} : std::nullopt;
}

std::string key_of(std::initializer_list<std::string_view> parts) {
  std::string key;
  for (const auto part : parts) (key += part) += '\0';
  return key;
}

/// First row wins, last row moves: rowids grow within a transaction.
template <class Marks> void mark(Marks& marks, WallTime at, std::int64_t row) {
  const auto [place, is_new] = marks.try_emplace(minute_of(at), typename Marks::mapped_type{row, row});
  if (!is_new) place->second.last = row;
}

template <class Marks> tl::expected<void, DbError> store_marks(Statement& statement, Marks& marks) {
  for (const auto& [minute, span] : marks)
    if (auto done = statement.bind(1, minute).bind(2, span.first).bind(3, span.last).run(); !done) return done;
  return {};
}

} // namespace

std::int64_t minute_of(WallTime t) { return std::chrono::floor<std::chrono::minutes>(t).time_since_epoch().count(); }

ReadingRow flattened(const ReadingRecord& reading) {
  ReadingRow row;
  row.at = reading.at;
  row.room = reading.room;
  row.sensor = reading.sensor;
  row.status = reading.status;
  if (const auto& oxygen = reading.oxygen) {
    row.oxygen = oxygen->dry.si();
    row.u_oxygen = oxygen->u_dry;
    row.oxygen_wet = oxygen->wet.si();
    row.u_oxygen_wet = oxygen->u_wet;
    row.po2_Pa = oxygen->po2.si();
    row.u_po2_Pa = oxygen->u_po2_Pa;
  }
  row.raw_V = reading.raw_V;
  row.temperature_K = reading.temperature_K;
  row.u_temperature_K = beside(reading.temperature_K, reading.u_temperature_K);
  row.humidity = reading.humidity;
  row.u_humidity = beside(reading.humidity, reading.u_humidity);
  row.pressure_Pa = reading.pressure_Pa;
  row.u_pressure_Pa = beside(reading.pressure_Pa, reading.u_pressure_Pa);
  row.carbon_dioxide = reading.carbon_dioxide;
  row.u_carbon_dioxide = beside(reading.carbon_dioxide, reading.u_carbon_dioxide);
  row.over_pressure_Pa = reading.over_pressure_Pa;
  row.u_over_pressure_Pa = beside(reading.over_pressure_Pa, reading.u_over_pressure_Pa);
  for (const auto& reason : reading.reasons) (row.reasons += row.reasons.empty() ? "" : "; ") += reason.text;
  row.inputs = reading.inputs;
  row.basis = reading.basis;
  return row;
}

tl::expected<Measurements, DbError> Measurements::prepared(Database database) {
  constexpr std::string_view mark = "INSERT INTO {}_mark VALUES(?,?,?) ON CONFLICT(minute) DO UPDATE SET "
                                    "first=min(first,excluded.first), last=max(last,excluded.last)";
  const std::string sql[] = {"INSERT INTO sensor(room, name) VALUES(?,?)",
                             "SELECT id FROM sensor WHERE room=? AND name=?",
                             "INSERT INTO channel(sensor, measurand) VALUES(?,?)",
                             "SELECT id FROM channel WHERE sensor=? AND measurand=?",
                             "INSERT INTO sample VALUES(?,?,?,?,?,?)",
                             "INSERT INTO reading VALUES(?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?,?)",
                             fmt::format(fmt::runtime(mark), "sample"),
                             fmt::format(fmt::runtime(mark), "reading")};
  std::vector<Statement> made;
  for (const auto& text : sql) {
    auto statement = database.prepare(text);
    if (!statement) return tl::unexpected(statement.error());
    made.push_back(std::move(*statement));
  }
  Statements statements{std::move(made[0]), std::move(made[1]), std::move(made[2]), std::move(made[3]),
                        std::move(made[4]), std::move(made[5]), std::move(made[6]), std::move(made[7])};
  auto oxygen_inputs = OxygenInputWriter::prepared(database);
  if (!oxygen_inputs) return tl::unexpected(oxygen_inputs.error());
  return Measurements{std::move(database), std::move(statements), std::move(*oxygen_inputs)};
}

tl::expected<Measurements, DbError> Measurements::open(const std::filesystem::path& state_dir) {
  auto opened = open_file(state_dir, measurements_schema());
  if (!opened) return tl::unexpected(opened.error());
  return prepared(std::move(opened->database));
}

tl::expected<Measurements, DbError> Measurements::replace(const std::filesystem::path& state_dir) {
  auto opened = replace_file(state_dir, measurements_schema());
  if (!opened) return tl::unexpected(opened.error());
  return prepared(std::move(opened->database));
}

tl::expected<void, DbError> Measurements::write(std::span<const Queued<MeasurementRow>> rows) {
  sample_marks_.clear();
  reading_marks_.clear();
  auto done = write_rows(rows);
  if (!done) { // ids given in the transaction that was rolled back do not exist
    sensors_.clear();
    channels_.clear();
    oxygen_inputs_.forget();
  }
  return done;
}

tl::expected<void, DbError> Measurements::write_rows(std::span<const Queued<MeasurementRow>> rows) {
  auto transaction = Transaction::begin(database_);
  if (!transaction) return tl::unexpected(transaction.error());
  for (const auto& queued : rows)
    if (auto done = std::visit([this](const auto& row) { return insert(row); }, queued.row); !done) return done;
  if (auto done = store_marks(statements_.sample_mark, sample_marks_); !done) return done;
  if (auto done = store_marks(statements_.reading_mark, reading_marks_); !done) return done;
  if (!reading_marks_.empty()) { // minutes of a clock that was set back, or of a queue that waited for long
    const WallTime oldest{std::chrono::minutes{reading_marks_.begin()->first}};
    if (auto done = roll_up_again_from(database_, oldest); !done) return done;
  }
  return transaction->commit();
}

tl::expected<std::int64_t, DbError> Measurements::sensor_id(const std::string& room, const std::string& sensor) {
  std::string key = key_of({room, sensor});
  if (const auto known = sensors_.find(key); known != sensors_.end()) return known->second;
  Statement& find = statements_.find_sensor;
  const auto found = find.bind(1, std::string_view{room}).bind(2, std::string_view{sensor}).step();
  if (!found) return tl::unexpected(found.error());
  std::int64_t id = *found ? find.integer(0) : 0;
  find.reset();
  if (!*found) {
    const auto added = statements_.add_sensor.bind(1, std::string_view{room}).bind(2, std::string_view{sensor}).run();
    if (!added) return tl::unexpected(added.error());
    id = database_.last_rowid();
  }
  sensors_.emplace(std::move(key), id);
  return id;
}

tl::expected<std::int64_t, DbError> Measurements::channel_id(const SampleRecord& sample) {
  std::string key = key_of({sample.room, sample.sensor, sample.measurand});
  if (const auto known = channels_.find(key); known != channels_.end()) return known->second;
  const auto sensor = sensor_id(sample.room, sample.sensor);
  if (!sensor) return sensor;
  Statement& find = statements_.find_channel;
  const auto found = find.bind(1, *sensor).bind(2, std::string_view{sample.measurand}).step();
  if (!found) return tl::unexpected(found.error());
  std::int64_t id = *found ? find.integer(0) : 0;
  find.reset();
  if (!*found) {
    const auto added = statements_.add_channel.bind(1, *sensor).bind(2, std::string_view{sample.measurand}).run();
    if (!added) return tl::unexpected(added.error());
    id = database_.last_rowid();
  }
  channels_.emplace(std::move(key), id);
  return id;
}

tl::expected<void, DbError> Measurements::insert(const SampleRecord& sample) {
  const auto channel = channel_id(sample);
  if (!channel) return tl::unexpected(channel.error());
  // A value that is not a number leaves no value, so its status must say so.
  const bool broken = sample.si && !std::isfinite(*sample.si);
  const auto status = broken ? alarms::graver(sample.status, alarms::Status::failure) : sample.status;
  const std::string_view fault =
      broken && sample.fault.empty() ? "not a finite number" : std::string_view{sample.fault};
  Statement& insert = statements_.sample;
  insert.bind(1, sample.at.time_since_epoch().count())
      .bind(2, *channel)
      .bind(3, sample.si)
      .bind(4, sample.raw)
      .bind(5, alarms::name_of(status));
  if (auto done = (fault.empty() ? insert.bind_null(6) : insert.bind(6, fault)).run(); !done) return done;
  mark(sample_marks_, sample.at, database_.last_rowid());
  return {};
}

tl::expected<void, DbError> Measurements::insert(const ReadingRow& row) {
  const auto sensor = sensor_id(row.room, row.sensor);
  if (!sensor) return tl::unexpected(sensor.error());
  Statement& insert = statements_.reading;
  insert.bind(1, row.at.time_since_epoch().count()).bind(2, *sensor).bind(3, alarms::name_of(row.status));
  int position = 4;
  for (const auto& value : {row.oxygen, row.u_oxygen, row.oxygen_wet, row.u_oxygen_wet, row.po2_Pa, row.u_po2_Pa,
                            row.raw_V, row.temperature_K, row.u_temperature_K, row.humidity, row.u_humidity,
                            row.pressure_Pa, row.u_pressure_Pa, row.carbon_dioxide, row.u_carbon_dioxide})
    insert.bind(position++, value);
  (row.reasons.empty() ? insert.bind_null(position) : insert.bind(position, std::string_view{row.reasons}))
      .bind(position + 1, row.over_pressure_Pa)
      .bind(position + 2, row.u_over_pressure_Pa);
  if (auto done = insert.run(); !done) return done;
  const std::int64_t reading = database_.last_rowid();
  mark(reading_marks_, row.at, reading);
  if (!row.inputs || !row.basis) return {};
  return oxygen_inputs_.insert(database_, reading, *row.inputs, row.basis);
}

tl::expected<void, DbError> Measurements::roll_up(WallTime now, std::chrono::milliseconds at_most,
                                                  const RollupKeep& keep) {
  // What waits in the queue for a moment still belongs to its minute.
  const auto complete_before = now - std::chrono::seconds{5};
  const auto end = std::chrono::steady_clock::now() + at_most;
  while (std::chrono::steady_clock::now() < end) {
    const auto more = roll_up_next(database_, complete_before, keep);
    if (!more) return tl::unexpected(more.error());
    if (!*more) break;
  }
  return {};
}

tl::expected<std::int64_t, DbError> Measurements::free_bytes() {
  const auto pages = database_.integer("PRAGMA freelist_count");
  if (!pages) return pages;
  const auto size = database_.integer("PRAGMA page_size");
  if (!size) return size;
  return *pages * *size;
}

tl::expected<std::int64_t, DbError> Measurements::prune(const Cutoffs& cutoffs) {
  const auto samples = prune_table("sample", cutoffs.samples);
  if (!samples) return samples;
  const auto readings = prune_table("reading", cutoffs.readings);
  if (!readings) return readings;
  return *samples + *readings;
}

tl::expected<std::int64_t, DbError> Measurements::prune_table(std::string_view table, WallTime cutoff) {
  auto oldest =
      database_.prepare(fmt::format("SELECT minute, first, last FROM {}_mark ORDER BY minute LIMIT 1", table));
  if (!oldest) return tl::unexpected(oldest.error());
  const auto found = oldest->step();
  if (!found) return tl::unexpected(found.error());
  if (!*found || oldest->integer(0) >= minute_of(cutoff)) return 0;
  const std::int64_t minute = oldest->integer(0);
  const Span span{oldest->integer(1), oldest->integer(2)};
  oldest->reset();
  auto transaction = Transaction::begin(database_);
  if (!transaction) return tl::unexpected(transaction.error());
  // Rows of one minute lie between the two rowids of its mark, possibly among others when the clock was set back.
  const std::string rows_to_go =
      fmt::format("(SELECT rowid FROM {} WHERE rowid BETWEEN {} AND {} AND at >= {} AND at < {} LIMIT {})", table,
                  span.first, span.last, minute * 60000, (minute + 1) * 60000, rows_pruned_at_once);
  if (table == "reading") // what belongs to a reading goes with it
    for (const std::string_view part : {"oxygen_input", "rederived"})
      if (auto done = database_.run(fmt::format("DELETE FROM {} WHERE reading IN {}", part, rows_to_go)); !done)
        return tl::unexpected(done.error());
  if (auto done = database_.run(fmt::format("DELETE FROM {} WHERE rowid IN {}", table, rows_to_go)); !done)
    return tl::unexpected(done.error());
  const std::int64_t rows = database_.changes();
  if (rows < rows_pruned_at_once)
    if (auto done = database_.run(fmt::format("DELETE FROM {}_mark WHERE minute = {}", table, minute)); !done)
      return tl::unexpected(done.error());
  if (auto done = transaction->commit(); !done) return tl::unexpected(done.error());
  return rows;
}

} // namespace oxherd::daemon::store
