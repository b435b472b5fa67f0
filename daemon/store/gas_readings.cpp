#include "daemon/store/gas_readings.hpp"

#include <fmt/core.h>

#include "daemon/store/measurements.hpp"
#include "daemon/store/schema.hpp"

namespace oxherd::daemon {
namespace {

tl::unexpected<StoreError> gas_readings_refused(const store::DbError& error) {
  return tl::unexpected(StoreError{error.what});
}

tl::expected<std::vector<RecordedSensor>, store::DbError> sensors_between(store::Database& database, std::int64_t first,
                                                                          std::int64_t last) {
  constexpr std::string_view of_it = "SELECT 1 FROM reading r WHERE r.rowid BETWEEN ?1 AND ?2 AND r.sensor = s.id";
  auto rows = database.prepare(fmt::format("SELECT s.id, s.room, s.name, EXISTS({0} AND r.oxygen NOT NULL), EXISTS({0} "
                                           "AND r.carbon_dioxide NOT NULL) FROM sensor s WHERE EXISTS({0}) ORDER BY "
                                           "s.room, s.name",
                                           of_it));
  if (!rows) return tl::unexpected(rows.error());
  rows->bind(1, first).bind(2, last);
  std::vector<RecordedSensor> sensors;
  for (;;) {
    const auto row = rows->step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return sensors;
    sensors.push_back({rows->integer(0), rows->text(1), rows->text(2), rows->integer(3) != 0, rows->integer(4) != 0});
  }
}

} // namespace

tl::expected<GasReadings, StoreError> GasReadings::open(const std::filesystem::path& state_dir, WallTime from,
                                                        WallTime to) {
  auto database = store::open_for_reading(state_dir, store::measurements_schema());
  if (!database) return gas_readings_refused(database.error());
  auto marks = database->prepare("SELECT coalesce(min(first), 0), coalesce(max(last), -1) FROM reading_mark WHERE "
                                 "minute BETWEEN ? AND ?");
  if (!marks) return gas_readings_refused(marks.error());
  const auto row = marks->bind(1, store::minute_of(from)).bind(2, store::minute_of(to)).step();
  if (!row) return gas_readings_refused(row.error());
  const auto first = marks->integer(0), last = marks->integer(1);
  auto sensors = sensors_between(*database, first, last);
  if (!sensors) return gas_readings_refused(sensors.error());
  auto rows = database->prepare("SELECT rowid, at, sensor, status, reasons, oxygen, u_oxygen, po2_Pa, u_po2_Pa, "
                                "carbon_dioxide, u_carbon_dioxide FROM reading WHERE rowid BETWEEN ?1 AND ?2 AND at "
                                "BETWEEN ?3 AND ?4 ORDER BY rowid");
  if (!rows) return gas_readings_refused(rows.error());
  rows->bind(1, first).bind(2, last).bind(3, from.time_since_epoch().count()).bind(4, to.time_since_epoch().count());
  GasReadings readings{std::move(*database), std::move(*rows)};
  readings.sensors_ = std::move(*sensors);
  readings.first_ = first;
  readings.last_ = last;
  return readings;
}

tl::expected<bool, StoreError> GasReadings::next(GasReadingRow& row) {
  if (at_end_) return false; // another step would begin at the first row again
  const auto more = rows_.step();
  if (!more) return gas_readings_refused(more.error());
  at_end_ = !*more;
  if (at_end_) return false;
  read_ = rows_.integer(0) - first_;
  row.at = WallTime{std::chrono::milliseconds{rows_.integer(1)}};
  row.sensor = rows_.integer(2);
  row.status = rows_.text(3);
  row.reasons = rows_.text(4);
  row.oxygen = rows_.optional_real(5);
  row.u_oxygen = rows_.optional_real(6);
  row.po2_Pa = rows_.optional_real(7);
  row.u_po2_Pa = rows_.optional_real(8);
  row.carbon_dioxide = rows_.optional_real(9);
  row.u_carbon_dioxide = rows_.optional_real(10);
  return true;
}

double GasReadings::part() const {
  return last_ > first_ ? static_cast<double>(read_) / static_cast<double>(last_ - first_) : 1.0;
}

} // namespace oxherd::daemon
