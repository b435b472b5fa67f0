#include "daemon/store/rollup.hpp"

#include <fmt/format.h>

#include "alarms/quality.hpp"

namespace oxherd::daemon::store {
namespace {

/// The least, the greatest and the mean of each column, as `expression` gives it.
template <class Expression> std::string columns_sql(Expression expression) {
  std::string sql;
  for (const auto column : rolled_columns) sql += expression(column);
  return sql;
}

/// Of the readings of one minute: what a derivation made of them, where there is one.
std::string minute_sql() {
  const auto value = [](std::string_view column) {
    const bool derived = column == "oxygen" || column == "u_oxygen" || column == "po2_Pa";
    const auto newest = derived ? fmt::format("iif(x.reading, x.{0}, r.{0})", column) : fmt::format("r.{}", column);
    const auto good = fmt::format("iif({}, NULL, {})", is_bad_sql("iif(x.reading, x.status, r.status)"), newest);
    return fmt::format(", min({0}), max({0}), avg({0})", good);
  };
  return fmt::format(
      "REPLACE INTO rollup SELECT {0}, r.sensor, ?3, count(*), sum({1}){2} FROM reading r LEFT JOIN "
      "rederived x ON x.reading = r.rowid AND x.derivation = (SELECT max(derivation) FROM rederived WHERE "
      "reading = r.rowid) WHERE r.rowid BETWEEN ?1 AND ?2 AND r.at >= ?3 AND r.at < ?3 + {0} "
      "GROUP BY r.sensor",
      minute_ms, is_bad_sql("iif(x.reading, x.status, r.status)"), columns_sql(value));
}

/// An hour of the minutes that there are, each with the weight of its readings.
std::string hour_sql() {
  const auto value = [](std::string_view column) {
    return fmt::format(", min(m.{0}_min), max(m.{0}_max), sum(m.{0}_mean * (m.readings - m.bad)) / nullif(sum(iif("
                       "m.{0}_mean IS NULL, 0, m.readings - m.bad)), 0)",
                       column);
  };
  return fmt::format("REPLACE INTO rollup SELECT {0}, m.sensor, ?1, sum(m.readings), sum(m.bad){1} FROM sensor s CROSS "
                     "JOIN rollup m ON m.step = {2} AND m.sensor = s.id AND m.start >= ?1 AND m.start < ?1 + {0} GROUP "
                     "BY m.sensor",
                     hour_ms, columns_sql(value), minute_ms);
}

struct MinuteAtWork {
  std::int64_t minute, first, last;
};

tl::expected<std::optional<MinuteAtWork>, DbError> oldest_open(Database& database, std::int64_t complete_before_ms) {
  auto rows = database.prepare("SELECT minute, first, last FROM reading_mark WHERE minute >= coalesce((SELECT until "
                               "FROM rolled), 0) AND minute < ? ORDER BY minute LIMIT 1");
  if (!rows) return tl::unexpected(rows.error());
  const auto row = rows->bind(1, complete_before_ms / minute_ms).step();
  if (!row) return tl::unexpected(row.error());
  if (!*row) return std::nullopt;
  return MinuteAtWork{rows->integer(0), rows->integer(1), rows->integer(2)};
}

} // namespace

std::string is_bad_sql(std::string_view column) {
  std::string bad;
  for (const auto status :
       {alarms::Status::ok, alarms::Status::maintenance_required, alarms::Status::out_of_specification,
        alarms::Status::function_check, alarms::Status::failure})
    if (alarms::quality_of(status) == alarms::Quality::bad)
      bad += fmt::format("{}'{}'", bad.empty() ? "" : ",", alarms::name_of(status));
  return fmt::format("({} IN ({}))", column, bad);
}

tl::expected<bool, DbError> roll_up_next(Database& database, WallTime complete_before) {
  const auto open = oldest_open(database, complete_before.time_since_epoch().count());
  if (!open) return tl::unexpected(open.error());
  if (!*open) return false;
  const auto [minute, first, last] = **open;
  const std::int64_t start = minute * minute_ms;
  auto transaction = Transaction::begin(database);
  if (!transaction) return tl::unexpected(transaction.error());
  auto of_minute = database.prepare(minute_sql());
  if (!of_minute) return tl::unexpected(of_minute.error());
  if (auto done = of_minute->bind(1, first).bind(2, last).bind(3, start).run(); !done)
    return tl::unexpected(done.error());
  auto of_hour = database.prepare(hour_sql());
  if (!of_hour) return tl::unexpected(of_hour.error());
  if (auto done = of_hour->bind(1, start - start % hour_ms).run(); !done) return tl::unexpected(done.error());
  if (auto done = database.run(fmt::format("REPLACE INTO rolled VALUES(1, {})", minute + 1)); !done)
    return tl::unexpected(done.error());
  if (auto done = transaction->commit(); !done) return tl::unexpected(done.error());
  return true;
}

tl::expected<void, DbError> roll_up_again_from(Database& database, WallTime from) {
  return database.run(fmt::format("UPDATE rolled SET until = min(until, {})",
                                  std::chrono::floor<std::chrono::minutes>(from).time_since_epoch().count()));
}

} // namespace oxherd::daemon::store
