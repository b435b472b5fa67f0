#include "daemon/store/rollup.hpp"

#include <algorithm>
#include <utility>

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

/// Tens of seconds of the readings of one minute: what a derivation made of them, where there is one. Of ?4 shares of
/// the sensors, share ?5.
std::string tens_sql() {
  const auto value = [](std::string_view column) {
    const bool derived = column == "oxygen" || column == "u_oxygen" || column == "po2_Pa";
    const auto newest = derived ? fmt::format("iif(x.reading, x.{0}, r.{0})", column) : fmt::format("r.{}", column);
    const auto good = fmt::format("iif({}, NULL, {})", is_bad_sql("iif(x.reading, x.status, r.status)"), newest);
    return fmt::format(", min({0}), max({0}), avg({0})", good);
  };
  return fmt::format(
      "REPLACE INTO rollup SELECT {0}, r.sensor, r.at / {0} * {0} AS start, count(*), sum({1}){2} FROM reading r "
      "LEFT JOIN rederived x ON x.reading = r.rowid AND x.derivation = (SELECT max(derivation) FROM rederived WHERE "
      "reading = r.rowid) WHERE r.rowid BETWEEN ?1 AND ?2 AND r.sensor % ?4 = ?5 AND r.at >= ?3 AND r.at < "
      "?3 + {3} GROUP BY r.sensor, start",
      tens_ms, is_bad_sql("iif(x.reading, x.status, r.status)"), columns_sql(value), minute_ms);
}

/// A step of the finer ones that there are, each with the weight of its readings.
std::string combined_sql(std::int64_t step, std::int64_t finer) {
  const auto value = [](std::string_view column) {
    return fmt::format(", min(m.{0}_min), max(m.{0}_max), sum(m.{0}_mean * (m.readings - m.bad)) / nullif(sum(iif("
                       "m.{0}_mean IS NULL, 0, m.readings - m.bad)), 0)",
                       column);
  };
  return fmt::format("REPLACE INTO rollup SELECT {0}, m.sensor, ?1, sum(m.readings), sum(m.bad){1} FROM sensor s CROSS "
                     "JOIN rollup m ON m.step = {2} AND m.sensor = s.id AND m.start >= ?1 AND m.start < ?1 + {0} GROUP "
                     "BY m.sensor",
                     step, columns_sql(value), finer);
}

/// Deletes what is older than `before`, of the oldest hour that there is.
tl::expected<void, DbError> delete_old(Database& database, std::int64_t step, std::int64_t before) {
  const auto oldest = database.integer(fmt::format(
      "SELECT coalesce(min(first), 9e15) FROM (SELECT (SELECT min(start) FROM rollup WHERE step = {} AND sensor = "
      "s.id) AS first FROM sensor s)",
      step));
  if (!oldest) return tl::unexpected(oldest.error());
  if (*oldest >= before) return {};
  return database.run(fmt::format("DELETE FROM rollup WHERE step = {} AND sensor IN (SELECT id FROM sensor) AND start "
                                  "< {}",
                                  step, std::min(before, *oldest + hour_ms)));
}

struct MinuteAtWork {
  std::int64_t minute, first, last;
};

tl::expected<void, DbError> roll_up_tens(Database& database, const MinuteAtWork& at, std::int64_t readings_at_once) {
  auto tens = database.prepare(tens_sql());
  if (!tens) return tl::unexpected(tens.error());
  const std::int64_t shares = 1 + (at.last - at.first) / readings_at_once;
  for (std::int64_t share = 0; share < shares; ++share) {
    tens->bind(1, at.first).bind(2, at.last).bind(3, at.minute * minute_ms).bind(4, shares).bind(5, share);
    if (auto done = tens->run(); !done) return done;
  }
  return {};
}

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

tl::expected<bool, DbError> roll_up_next(Database& database, WallTime complete_before, const RollupKeep& keep,
                                         std::int64_t readings_at_once) {
  const std::int64_t newest = complete_before.time_since_epoch().count();
  const auto open = oldest_open(database, newest);
  if (!open) return tl::unexpected(open.error());
  if (!*open) return false;
  const std::int64_t start = (*open)->minute * minute_ms;
  auto transaction = Transaction::begin(database);
  if (!transaction) return tl::unexpected(transaction.error());
  if (auto done = roll_up_tens(database, **open, readings_at_once); !done) return tl::unexpected(done.error());
  constexpr std::array<std::pair<std::int64_t, std::int64_t>, 2> coarser{{{minute_ms, tens_ms}, {hour_ms, minute_ms}}};
  for (const auto& [step, finer] : coarser) {
    auto combined = database.prepare(combined_sql(step, finer));
    if (!combined) return tl::unexpected(combined.error());
    if (auto done = combined->bind(1, start - start % step).run(); !done) return tl::unexpected(done.error());
  }
  if (auto done = delete_old(database, tens_ms, newest - keep.tens.count()); !done) return tl::unexpected(done.error());
  if (auto done = delete_old(database, minute_ms, newest - keep.minutes.count()); !done)
    return tl::unexpected(done.error());
  if (auto done = database.run(fmt::format("REPLACE INTO rolled VALUES(1, {})", (*open)->minute + 1)); !done)
    return tl::unexpected(done.error());
  if (auto done = transaction->commit(); !done) return tl::unexpected(done.error());
  return true;
}

tl::expected<void, DbError> roll_up_again_from(Database& database, WallTime from) {
  return database.run(fmt::format("UPDATE rolled SET until = min(until, {})",
                                  std::chrono::floor<std::chrono::minutes>(from).time_since_epoch().count()));
}

} // namespace oxherd::daemon::store
