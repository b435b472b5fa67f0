#include "daemon/collect/archive.hpp"

#include <algorithm>
#include <map>

#include <fmt/format.h>
#include <pqxx/pqxx>

#include "daemon/collect/historian_error.hpp"
#include "daemon/collect/quantities.hpp"
#include "daemon/collect/sample_text.hpp"
#include "daemon/store/rollup.hpp"

namespace oxherd::daemon::collect {
namespace {

/// A time as whole microseconds since 1970.
std::string us(std::string_view column) { return fmt::format("(extract(epoch FROM {}) * 1000000)::bigint", column); }

std::optional<SampleTime> time_in(const pqxx::field& field) {
  if (field.is_null()) return std::nullopt;
  return SampleTime{std::chrono::microseconds{field.as<std::int64_t>()}};
}
std::optional<double> number_in(const pqxx::field& field) {
  return field.is_null() ? std::nullopt : std::optional{field.as<double>()};
}
std::string words_in(const pqxx::field& field) { return field.is_null() ? std::string{} : field.c_str(); }
WallTime wall(SampleTime at) { return std::chrono::floor<std::chrono::milliseconds>(at); }

/// "larkfield/cryo-annexe": a name without a slash is a site, all its rooms.
struct Place {
  std::string site, room;
};
Place place_of(const std::string& name) {
  const auto slash = name.find('/');
  if (slash == std::string::npos) return {name, {}};
  return {name.substr(0, slash), name.substr(slash + 1)};
}

/// Conditions on site and room, and on another column, each only where it is given.
std::string where(pqxx::transaction_base& work, const HistoryQuery& query, std::string_view site, std::string_view room,
                  std::string_view other, const std::optional<std::string>& wanted) {
  std::string sql;
  if (query.room) {
    const auto place = place_of(*query.room);
    sql += fmt::format(" AND {} = {}", site, work.quote(place.site));
    if (!place.room.empty()) sql += fmt::format(" AND {} = {}", room, work.quote(place.room));
  }
  if (wanted) sql += fmt::format(" AND {} = {}", other, work.quote(*wanted));
  return sql;
}

AlarmRecord record_of(const pqxx::row& row) {
  AlarmRecord record;
  record.sequence = row[0].as<std::int64_t>();
  record.room = words_in(row[1]) + '/' + words_in(row[2]);
  record.at = wall(time_in(row[3]).value_or(SampleTime{}));
  record.alarm = words_in(row[4]);
  record.event = words_in(row[5]);
  record.from = alarms::state_named(words_in(row[6])).value_or(alarms::State::normal);
  record.to = alarms::state_named(words_in(row[7])).value_or(alarms::State::normal);
  record.cause = words_in(row[8]);
  record.author = words_in(row[9]);
  record.comment = words_in(row[10]);
  record.priority = alarms::priority_named(words_in(row[11])).value_or(alarms::Priority::high);
  record.value = number_in(row[12]);
  record.expanded = number_in(row[13]);
  record.limit = number_in(row[14]);
  record.unit = words_in(row[15]);
  record.text = words_in(row[16]);
  return record;
}

/// Puts a sample where the interface has it, SI.
void add(const pqxx::row& row, StoredReading& reading) {
  const auto quantity = words_in(row[3]);
  const auto value = number_in(row[5]);
  if (quantity == "quality") reading.quality = words_in(row[6]);
  const std::map<std::string, std::pair<std::optional<double>*, double>, std::less<>> places{
      {"oxygen", {&reading.oxygen, 0.0}},
      {"u_oxygen", {&reading.u_oxygen, 0.0}},
      {"oxygen_wet", {&reading.oxygen_wet, 0.0}},
      {"po2", {&reading.po2_Pa, 0.0}},
      {"raw", {&reading.raw_V, 0.0}},
      {"temperature", {&reading.temperature_K, 273.15}},
      {"pressure", {&reading.pressure_Pa, 0.0}},
      {"co2", {&reading.carbon_dioxide, 0.0}},
      {"over_pressure", {&reading.over_pressure_Pa, 0.0}}};
  if (quantity == "humidity" && value) reading.humidity = *value / 100.0;
  if (const auto found = places.find(quantity); found != places.end() && value)
    *found->second.first = *value + found->second.second;
}

/// What a quantity of the daemon's own trends is in packs.
const Quantity* recorded(const TrendQuantity& quantity) { return quantity_named(quantity.name); }

} // namespace

Archive::Archive(std::shared_ptr<pqxx::connection_base> connection) : connection_{std::move(connection)} {}
Archive::~Archive() = default;

tl::expected<std::unique_ptr<Archive>, HistorianError> Archive::open(const DatabaseSettings& database) {
  const auto connection = connection_words(database);
  if (!connection) return tl::unexpected(HistorianError{false, connection.error()});
  try {
    std::unique_ptr<Archive> opened{new Archive{std::make_shared<pqxx::connection>(
        *connection + " options='-c default_transaction_read_only=on -c statement_timeout=20000 -c timezone=UTC'")}};
    return opened;
  } catch (const std::exception& thrown) {
    return tl::unexpected(historian_error(thrown));
  }
}

tl::expected<std::vector<FleetRoom>, HistorianError> Archive::rooms() {
  try {
    pqxx::work work{*connection_};
    std::map<std::string, FleetRoom> rooms;
    for (const auto& row :
         work.exec(fmt::format("SELECT s.name, s.status, {}, {}, {}, r.room, r.told, {} FROM room r JOIN site s "
                               "ON s.id = r.site",
                               us("s.status_at"), us("s.heard_at"), us("s.beat_at"), us("r.heard_at")))) {
      FleetRoom room;
      room.site = {words_in(row[0]), words_in(row[1]), time_in(row[2]), time_in(row[3]), time_in(row[4])};
      room.room = words_in(row[5]);
      room.told_json = words_in(row[6]);
      room.heard_at = time_in(row[7]).value_or(SampleTime{});
      rooms.emplace(name_of_room(room), std::move(room));
    }
    const auto room_of = [&](const pqxx::row& row) {
      const auto found = rooms.find(words_in(row[0]) + '/' + words_in(row[1]));
      return found == rooms.end() ? nullptr : &found->second;
    };
    for (const auto& row :
         work.exec("SELECT s.name, a.room, a.told FROM alarm a JOIN site s ON s.id = a.site ORDER BY a.alarm"))
      if (auto* room = room_of(row)) room->alarms_json.push_back(words_in(row[2]));
    for (const auto& row : work.exec(fmt::format("SELECT s.name, c.room, c.sensor, c.quantity, c.unit, {}, l.value, "
                                                 "l.words, l.quality FROM channel c JOIN site s ON "
                                                 "s.id = c.site CROSS JOIN LATERAL (SELECT * FROM sample WHERE channel "
                                                 "= c.id AND at > now() - interval '1 h' ORDER BY "
                                                 "at DESC LIMIT 1) l ORDER BY c.sensor",
                                                 us("l.at"))))
      if (auto* room = room_of(row))
        room->samples.push_back({words_in(row[2]), words_in(row[3]), words_in(row[4]),
                                 time_in(row[5]).value_or(SampleTime{}), number_in(row[6]), words_in(row[7]),
                                 row[8].is_null() ? std::nullopt : std::optional{row[8].as<int>()}});
    std::vector<FleetRoom> all;
    for (auto& [name, room] : rooms) all.push_back(std::move(room));
    return all;
  } catch (const std::exception& thrown) {
    return tl::unexpected(historian_error(thrown));
  }
}

tl::expected<AlarmHistory, HistorianError> Archive::alarms(const HistoryQuery& query) {
  try {
    pqxx::work work{*connection_};
    auto sql = fmt::format(
        "SELECT j.number, s.name, j.room, {}, alarm, event, from_state, to_state, cause, author, comment, "
        "priority, value, expanded, limit_value, unit, text FROM journal j JOIN site s ON s.id = j.site WHERE "
        "j.at BETWEEN {} AND {}",
        us("j.at"), work.quote(time_text(query.from)), work.quote(time_text(query.to)));
    sql += where(work, query, "s.name", "j.room", "j.alarm", query.alarm);
    if (query.before) sql += fmt::format(" AND j.number < {}", *query.before);
    AlarmHistory history;
    for (const auto& row : work.exec(fmt::format("{} ORDER BY j.number DESC LIMIT {}", sql, query.limit + 1)))
      history.records.push_back(record_of(row));
    history.truncated = history.records.size() > static_cast<std::size_t>(query.limit);
    if (history.truncated) history.records.pop_back();
    std::reverse(history.records.begin(), history.records.end());
    if (history.truncated) history.next = history.records.front().sequence;
    return history;
  } catch (const std::exception& thrown) {
    return tl::unexpected(historian_error(thrown));
  }
}

tl::expected<ReadingHistory, HistorianError> Archive::readings(const HistoryQuery& query) {
  try {
    pqxx::work work{*connection_};
    auto channels =
        std::string{"SELECT c.id, s.name, c.room, c.sensor, c.quantity FROM channel c JOIN site s ON s.id = c.site "
                    "WHERE true"};
    channels += where(work, query, "s.name", "c.room", "c.sensor", query.sensor);
    const auto to = query.before ? SampleTime{std::chrono::microseconds{*query.before}} : SampleTime{query.to};
    // A reading has some ten records; of those at the last time some may be cut off, and so that time is left out.
    const auto rows_most = (std::int64_t{query.limit} + 1) * 16;
    const auto rows =
        work.exec(fmt::format("WITH c AS ({}) SELECT c.name, c.room, c.sensor, c.quantity, {}, x.value, x.words FROM "
                              "c JOIN sample x ON x.channel = c.id WHERE x.at >= {} AND x.at {} {} ORDER BY x.at "
                              "DESC LIMIT {}",
                              channels, us("x.at"), work.quote(time_text(query.from)),
                              query.before ? "<" : "<=", work.quote(time_text(to)), rows_most));
    std::map<std::tuple<SampleTime, std::string, std::string>, StoredReading> found;
    for (const auto& row : rows) {
      const auto at = time_in(row[4]).value_or(SampleTime{});
      const auto room = words_in(row[0]) + '/' + words_in(row[1]);
      auto& reading = found[{at, room, words_in(row[2])}];
      reading.at = wall(at);
      reading.room = room;
      reading.sensor = words_in(row[2]);
      add(row, reading);
    }
    ReadingHistory history;
    std::optional<SampleTime> oldest;
    bool cut = static_cast<std::int64_t>(rows.size()) == rows_most;
    for (auto one = found.rbegin(); one != found.rend(); ++one) {
      if (history.readings.size() >= static_cast<std::size_t>(query.limit) && std::get<0>(one->first) != oldest) {
        cut = true;
        break;
      }
      const bool last_time = std::get<0>(one->first) == std::get<0>(found.begin()->first);
      if (cut && last_time && oldest) break;
      oldest = std::get<0>(one->first);
      history.readings.push_back(one->second);
    }
    history.truncated = cut;
    if (cut && oldest) history.next = oldest->time_since_epoch().count();
    std::reverse(history.readings.begin(), history.readings.end());
    return history;
  } catch (const std::exception& thrown) {
    return tl::unexpected(historian_error(thrown));
  }
}

tl::expected<Trend, HistorianError> Archive::trend(const TrendQuery& query) {
  using store::hour_ms, store::minute_ms;
  Trend trend;
  trend.from = query.from;
  trend.to = query.to;
  const auto least = least_step(query).count();
  const auto rows_ms = least >= hour_ms ? hour_ms : least >= minute_ms ? minute_ms : 0; // no tens of seconds here
  trend.step = trend_step(query, rows_ms);
  const auto step = trend.step.count();
  const auto* quantity = recorded(*query.quantity);
  if (quantity == nullptr) return trend;
  try {
    pqxx::work work{*connection_};
    const auto place = place_of(query.room);
    // What is not rolled up yet comes from the samples themselves. Bad readings are counted by their quality, which is
    // there also when they have no value.
    const auto part = [&](std::string_view table, std::string_view time, std::string_view values) {
      return fmt::format(
          "SELECT floor(({0} - {1}) / {2}) AS nr, {3} FROM {4} x JOIN c ON c.id = x.channel WHERE x.{5} >= {6} AND "
          "x.{5} < {7}",
          us(fmt::format("x.{}", time)), SampleTime{query.from}.time_since_epoch().count(), step * 1000, values, table,
          time, work.quote(time_text(query.from)), work.quote(time_text(query.to)));
    };
    const std::string of_rolled =
        "c.counts_bad, x.least, x.greatest, x.mean * (x.samples - x.bad) AS sum, CASE WHEN x.mean IS NULL "
        "THEN 0 ELSE x.samples - x.bad END AS n, x.bad";
    const std::string of_samples = "c.counts_bad, CASE WHEN x.quality IS DISTINCT FROM 3 THEN x.value END AS least, "
                                   "CASE WHEN x.quality IS DISTINCT FROM 3 "
                                   "THEN x.value END AS greatest, CASE WHEN x.quality IS DISTINCT FROM 3 THEN x.value "
                                   "END AS sum, CASE WHEN x.quality IS "
                                   "DISTINCT FROM 3 AND x.value IS NOT NULL THEN 1 ELSE 0 END AS n, CASE WHEN "
                                   "x.quality = 3 THEN 1 ELSE 0 END AS bad";
    std::string rows;
    if (rows_ms == 0)
      rows = part("sample", "at", of_samples);
    else
      rows = part(rows_ms == hour_ms ? "hour" : "minute", "start", of_rolled) + " UNION ALL " +
             part("sample", "at", of_samples) +
             fmt::format(
                 " AND x.at >= coalesce((SELECT max(start) + interval '1 min' FROM minute m JOIN c ON c.id = m.channel "
                 "WHERE m.start >= {0} AND m.start < {1}), {0})",
                 work.quote(time_text(query.from)), work.quote(time_text(query.to)));
    const auto sql =
        fmt::format("WITH c AS (SELECT c.id, c.quantity = 'quality' AS counts_bad FROM channel c JOIN site s ON s.id = "
                    "c.site WHERE s.name = "
                    "{} AND c.room = {} AND c.sensor = {} AND (c.quantity = 'quality' OR (c.quantity = {} AND c.unit = "
                    "{}))) SELECT nr, "
                    "min(least), max(greatest), sum(sum) / nullif(sum(n), 0), coalesce(sum(bad) FILTER (WHERE "
                    "counts_bad), 0)::bigint FROM "
                    "({}) AS row GROUP BY nr ORDER BY nr",
                    work.quote(place.site), work.quote(place.room), work.quote(query.sensor),
                    work.quote(std::string{quantity->recorded}), work.quote(std::string{quantity->unit}), rows);
    const auto scaled = [&](const pqxx::field& field) {
      const auto value = number_in(field);
      return value ? std::optional{in_persons_unit(*quantity, *value)} : std::nullopt;
    };
    for (const auto& row : work.exec(sql))
      trend.steps.push_back({query.from + std::chrono::milliseconds{row[0].as<std::int64_t>() * step + step / 2},
                             scaled(row[1]), scaled(row[2]), scaled(row[3]), row[4].as<std::int64_t>()});
    return trend;
  } catch (const std::exception& thrown) {
    return tl::unexpected(historian_error(thrown));
  }
}

} // namespace oxherd::daemon::collect
