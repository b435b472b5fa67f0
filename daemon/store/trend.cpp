#include "daemon/store/trend.hpp"

#include <algorithm>
#include <array>
#include <map>

#include <fmt/format.h>

#include "daemon/store/measurements.hpp"
#include "daemon/store/rollup.hpp"
#include "daemon/store/schema.hpp"

namespace oxherd::daemon {
namespace {

using store::Database;
using store::DbError;

constexpr std::array<TrendQuantity, 9> quantities{{{"dry_fraction", "oxygen", 1.0, 0.0},
                                                   {"u_dry_fraction", "u_oxygen", 1.0, 0.0},
                                                   {"po2_kpa", "po2_Pa", 1e-3, 0.0},
                                                   {"co2_fraction", "carbon_dioxide", 1.0, 0.0},
                                                   {"temperature_c", "temperature_K", 1.0, -273.15},
                                                   {"humidity_percent", "humidity", 100.0, 0.0},
                                                   {"pressure_kpa", "pressure_Pa", 1e-3, 0.0},
                                                   {"over_pressure_pa", "over_pressure_Pa", 1.0, 0.0},
                                                   {"raw_mv", "raw_V", 1e3, 0.0}}};

/// Sums of one step, SI.
struct Sums {
  std::optional<double> least, greatest;
  double weighted = 0.0;
  std::int64_t weight = 0, bad = 0;

  void add(std::optional<double> low, std::optional<double> high, double sum, std::int64_t n, std::int64_t bad_ones) {
    if (low) least = least ? std::min(*least, *low) : *low;
    if (high) greatest = greatest ? std::max(*greatest, *high) : *high;
    weighted += sum;
    weight += n;
    bad += bad_ones;
  }
};
using Steps = std::map<std::int64_t, Sums>; ///< by number since `from`

/// A plot of so many points needs no finer rows than these; half of ten seconds is near enough. Zero: the readings
/// themselves.
std::int64_t rows_for(std::chrono::milliseconds step) {
  if (step.count() >= store::hour_ms) return store::hour_ms;
  if (step.count() >= store::minute_ms) return store::minute_ms;
  return step.count() >= store::tens_ms / 2 ? store::tens_ms : 0;
}

tl::expected<std::optional<std::int64_t>, DbError> sensor_id(Database& database, const TrendQuery& query) {
  auto rows = database.prepare("SELECT id FROM sensor WHERE room = ? AND name = ?");
  if (!rows) return tl::unexpected(rows.error());
  const auto row = rows->bind(1, std::string_view{query.room}).bind(2, std::string_view{query.sensor}).step();
  if (!row) return tl::unexpected(row.error());
  return *row ? std::optional{rows->integer(0)} : std::nullopt;
}

tl::expected<void, DbError> collect(store::Statement& rows, Steps& steps) {
  for (;;) {
    const auto row = rows.step();
    if (!row) return tl::unexpected(row.error());
    if (!*row) return {};
    steps[rows.integer(0)].add(rows.optional_real(1), rows.optional_real(2), rows.optional_real(3).value_or(0.0),
                               rows.integer(4), rows.integer(5));
  }
}

/// Up to which time there are such rows of this sensor, or it was silent; `from` when there are none. While minutes are
/// made anew the old ones stand.
/// @param rows  tens of seconds or minutes; hours reach as far as their minutes
tl::expected<std::int64_t, DbError> rolled_until(Database& database, std::int64_t sensor, std::int64_t rows,
                                                 std::int64_t from) {
  const auto last =
      database.integer(fmt::format("SELECT coalesce(max(start) + {0}, 0) FROM rollup WHERE step = {0} AND "
                                   "sensor = {1}",
                                   rows, sensor));
  if (!last) return last;
  const auto all = database.integer(fmt::format("SELECT coalesce(max(until) * {}, 0) FROM rolled", store::minute_ms));
  if (!all) return all;
  return std::max({*last, *all, from});
}

tl::expected<void, DbError> add_rolled(Database& database, const TrendQuery& query, std::int64_t sensor,
                                       std::int64_t step, std::int64_t rolled_step, std::int64_t until, Steps& steps) {
  const auto column = query.quantity->column;
  auto rows = database.prepare(fmt::format(
      "SELECT (start - ?1) / ?2 AS nr, min({0}_min), max({0}_max), sum({0}_mean * (readings - bad)), "
      "sum(iif({0}_mean IS NULL, 0, readings - bad)), sum(bad) FROM rollup WHERE step = ?3 AND sensor = ?4 AND start "
      ">= ?1 AND start < ?5 GROUP BY nr",
      column));
  if (!rows) return tl::unexpected(rows.error());
  rows->bind(1, query.from.time_since_epoch().count())
      .bind(2, step)
      .bind(3, rolled_step)
      .bind(4, sensor)
      .bind(5, until);
  return collect(*rows, steps);
}

/// The readings themselves, from `begin` on.
tl::expected<void, DbError> add_readings(Database& database, const TrendQuery& query, std::int64_t sensor,
                                         std::int64_t step, std::int64_t begin, Steps& steps) {
  const auto to = query.to.time_since_epoch().count();
  const auto marked = [&](const char* which) {
    return database.integer(fmt::format("SELECT coalesce({}, 0) FROM reading_mark WHERE minute BETWEEN {} AND {}",
                                        which, begin / store::minute_ms, to / store::minute_ms));
  };
  const auto first = marked("min(first)"), last = marked("max(last)");
  if (!first || !last) return tl::unexpected(first ? last.error() : first.error());
  const auto column = query.quantity->column;
  const bool derived = column == "oxygen" || column == "u_oxygen" || column == "po2_Pa";
  const auto bad = store::is_bad_sql("iif(x.reading, x.status, r.status)");
  const auto value =
      fmt::format("iif({}, NULL, {})", bad,
                  derived ? fmt::format("iif(x.reading, x.{0}, r.{0})", column) : fmt::format("r.{}", column));
  auto rows = database.prepare(
      fmt::format("SELECT (r.at - ?1) / ?2 AS nr, min({0}), max({0}), sum({0}), count({0}), sum({1}) FROM reading r "
                  "LEFT JOIN rederived "
                  "x ON x.reading = r.rowid AND x.derivation = (SELECT max(derivation) FROM rederived WHERE reading = "
                  "r.rowid) WHERE "
                  "r.rowid BETWEEN ?3 AND ?4 AND r.sensor = ?5 AND r.at >= ?6 AND r.at < ?7 GROUP BY nr",
                  value, bad));
  if (!rows) return tl::unexpected(rows.error());
  rows->bind(1, query.from.time_since_epoch().count())
      .bind(2, step)
      .bind(3, *first)
      .bind(4, *last)
      .bind(5, sensor)
      .bind(6, begin)
      .bind(7, to);
  return collect(*rows, steps);
}

constexpr std::int64_t never = 9'000'000'000'000'000;

/// Since when there are such rows; `never` when there are none.
tl::expected<std::int64_t, DbError> oldest_of(Database& database, std::int64_t sensor, std::int64_t rows) {
  if (rows == 0)
    return database.integer(
        fmt::format("SELECT coalesce(min(minute) * {}, {}) FROM reading_mark", store::minute_ms, never));
  return database.integer(
      fmt::format("SELECT coalesce(min(start), {}) FROM rollup WHERE step = {} AND sensor = {}", never, rows, sensor));
}

/// The rows that a plot is made of. Where what it needs is no longer kept, or not made yet, finer ones serve if they
/// reach back to its beginning, or else coarser ones.
tl::expected<std::int64_t, DbError> rows_there(Database& database, std::int64_t sensor, std::int64_t from,
                                               std::int64_t needed) {
  const auto first_hour = oldest_of(database, sensor, store::hour_ms);
  if (!first_hour) return first_hour;
  const auto begin = std::max(from, *first_hour + store::hour_ms); // before it nothing is missing
  constexpr std::array<std::int64_t, 4> fine_to_coarse{0, store::tens_ms, store::minute_ms, store::hour_ms};
  std::optional<std::int64_t> finer;
  for (const auto rows : fine_to_coarse) {
    const auto oldest = oldest_of(database, sensor, rows);
    if (!oldest) return oldest;
    const bool there = *oldest <= begin;
    if (rows < needed && there) finer = rows; // the coarsest of them
    if (rows == needed && there) return rows;
    if (rows >= needed && finer) return *finer;
    if (rows > needed && there) return rows;
  }
  return store::hour_ms;
}

tl::expected<Steps, DbError> collected(Database& database, const TrendQuery& query, std::int64_t sensor,
                                       std::int64_t rows, std::int64_t step) {
  Steps steps;
  const auto from = query.from.time_since_epoch().count(), to = query.to.time_since_epoch().count();
  std::int64_t begin = from;
  if (rows != 0) {
    const auto until = rolled_until(database, sensor, std::min(rows, store::minute_ms), from);
    if (!until) return tl::unexpected(until.error());
    begin = std::min(*until, to);
    if (auto done = add_rolled(database, query, sensor, step, rows, begin, steps); !done)
      return tl::unexpected(done.error());
  }
  if (begin < to)
    if (auto done = add_readings(database, query, sensor, step, begin, steps); !done)
      return tl::unexpected(done.error());
  return steps;
}

} // namespace

const TrendQuantity* trend_quantity_named(std::string_view name) {
  const auto found =
      std::find_if(quantities.begin(), quantities.end(), [name](const TrendQuantity& q) { return q.name == name; });
  return found == quantities.end() ? nullptr : &*found;
}

std::string trend_quantity_names() {
  std::string names;
  for (const auto& quantity : quantities) names += fmt::format("{}{}", names.empty() ? "" : ", ", quantity.name);
  return names;
}

std::chrono::milliseconds least_step(const TrendQuery& query) {
  return std::max(std::chrono::milliseconds{1}, (query.to - query.from) / query.points);
}

std::chrono::milliseconds trend_step(const TrendQuery& query, std::int64_t rows_ms) {
  const auto least = least_step(query).count();
  if (rows_ms == 0) return std::chrono::milliseconds{std::max<std::int64_t>(least, 1000)};
  return std::chrono::milliseconds{std::max<std::int64_t>(1, (least + rows_ms - 1) / rows_ms) * rows_ms};
}

tl::expected<Trend, StoreError> trend(const std::filesystem::path& state_dir, const TrendQuery& asked) {
  auto database = store::open_for_reading(state_dir, store::measurements_schema());
  if (!database) return tl::unexpected(StoreError{database.error().what});
  Trend result;
  result.from = asked.from;
  result.to = asked.to;
  const auto needed = rows_for(least_step(asked));
  result.step = trend_step(asked, needed);
  const auto sensor = sensor_id(*database, asked);
  if (!sensor) return tl::unexpected(StoreError{sensor.error().what});
  if (!*sensor) return result;
  const auto rows = rows_there(*database, **sensor, asked.from.time_since_epoch().count(), needed);
  if (!rows) return tl::unexpected(StoreError{rows.error().what});
  result.step = trend_step(asked, *rows);
  TrendQuery query = asked;
  // Steps begin with whole rows where they are made of these.
  if (*rows != 0)
    query.from = WallTime{std::chrono::milliseconds{asked.from.time_since_epoch().count() / *rows * *rows}};
  const auto steps = collected(*database, query, **sensor, *rows, result.step.count());
  if (!steps) return tl::unexpected(StoreError{steps.error().what});
  const auto shown = [&](std::optional<double> si) {
    return si ? std::optional{*si * query.quantity->factor + query.quantity->offset} : std::nullopt;
  };
  for (const auto& [number, sums] : *steps) {
    TrendStep step;
    step.middle = query.from + number * result.step + result.step / 2;
    step.least = shown(sums.least);
    step.greatest = shown(sums.greatest);
    if (sums.weight > 0) step.mean = shown(sums.weighted / static_cast<double>(sums.weight));
    step.bad = sums.bad;
    result.steps.push_back(step);
  }
  return result;
}

} // namespace oxherd::daemon
