#include "daemon/collect/historian.hpp"

#include <algorithm>
#include <array>

#include <fmt/format.h>
#include <pqxx/pqxx>

#include "daemon/collect/historian_error.hpp"
#include "daemon/collect/sample_text.hpp"
#include "daemon/collect/schema_steps.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::collect {
namespace {

/// One program at a time brings the schema up to date.
constexpr std::string_view schema_lock = "SELECT pg_advisory_xact_lock(7959093)";

constexpr const char* incoming_table =
    "CREATE TEMPORARY TABLE incoming (channel integer, quality smallint, at timestamptz, value double precision, "
    "words text) ON COMMIT DELETE ROWS";

constexpr const char* take_over =
    "INSERT INTO sample SELECT channel, quality, at, value, words FROM incoming ON CONFLICT "
    "DO NOTHING";

/// Of what was left out because something is there already. Samples that came twice in one batch are the same here.
constexpr const char* count_differing = "SELECT count(*) FROM incoming i JOIN sample s USING (channel, at) WHERE "
                                        "i.value IS DISTINCT FROM s.value OR i.words "
                                        "IS DISTINCT FROM s.words";

constexpr const char* touch_minute = "INSERT INTO open_minute VALUES ($1, 1, now()) ON CONFLICT (start) DO UPDATE SET "
                                     "touched = open_minute.touched + 1, "
                                     "touched_at = now()";

constexpr const char* add_lines =
    "INSERT INTO journal (site, sequence, at, room, alarm, event, from_state, to_state, cause, author, comment, "
    "priority, value, "
    "expanded, limit_value, unit, text) SELECT (l.line->>'site')::smallint, r.sequence, r.at, r.room, r.alarm, "
    "r.event, r.from, r.to, "
    "r.cause, r.author, r.comment, r.priority, r.value, r.expanded, r.limit, r.unit, r.text FROM "
    "jsonb_array_elements($1::jsonb) AS l(line), jsonb_to_record(l.line->'told') AS r(sequence bigint, at timestamptz, "
    "room "
    "text, alarm text, event text, \"from\" text, \"to\" text, cause text, author text, comment text, priority text, "
    "value "
    "double precision, expanded double precision, \"limit\" double precision, unit text, text text) ON CONFLICT DO "
    "NOTHING";

constexpr const char* set_room = "INSERT INTO room VALUES ($1, $2, $3::jsonb, $4) ON CONFLICT (site, room) DO UPDATE "
                                 "SET told = excluded.told, heard_at "
                                 "= excluded.heard_at";
constexpr const char* set_alarm =
    "INSERT INTO alarm VALUES ($1, $2, $3, $4::jsonb, $5) ON CONFLICT (site, room, alarm) DO UPDATE SET told = "
    "excluded.told, heard_at = excluded.heard_at";
constexpr const char* set_standing = "UPDATE site SET status = $2, status_at = $3 WHERE id = $1";
/// A heartbeat that stood before, or that counts nothing new, is no sign of life.
constexpr const char* set_beat = "UPDATE site SET heard_at = $4, evaluations = $2, beat_at = $3 WHERE id = $1 AND "
                                 "evaluations IS DISTINCT FROM $2";

} // namespace

HistorianError historian_error(const std::exception& thrown) {
  HistorianError error;
  error.what = thrown.what();
  while (!error.what.empty() && error.what.back() == '\n') error.what.pop_back();
  std::replace(error.what.begin(), error.what.end(), '\n', ' ');
  // Classes 22 and 23: what was to be written cannot be (PostgreSQL 15, appendix A).
  const auto* sql = dynamic_cast<const pqxx::sql_error*>(&thrown);
  const auto state = sql == nullptr ? std::string{} : sql->sqlstate();
  error.by_content = state.starts_with("22") || state.starts_with("23");
  return error;
}

Historian::Historian(std::shared_ptr<pqxx::connection_base> connection) : connection_{std::move(connection)} {}
Historian::~Historian() = default;

tl::expected<std::unique_ptr<Historian>, HistorianError> Historian::open(const DatabaseSettings& database) {
  const auto connection = connection_words(database);
  if (!connection) return tl::unexpected(HistorianError{false, connection.error()});
  try {
    std::unique_ptr<Historian> opened{new Historian{std::make_shared<pqxx::connection>(*connection)}};
    opened->connection_->set_client_encoding("UTF8");
    opened->migrate();
    pqxx::nontransaction work{*opened->connection_};
    work.exec0("SET TIME ZONE 'UTC'");
    work.exec0(incoming_table);
    return opened;
  } catch (const std::exception& thrown) {
    auto error = historian_error(thrown);
    error.by_content = false;
    return tl::unexpected(std::move(error));
  }
}

void Historian::migrate() {
  pqxx::work work{*connection_};
  work.exec(std::string{schema_lock});
  const bool there = work.exec1("SELECT to_regclass('schema_version') IS NOT NULL")[0].as<bool>();
  auto version = there ? work.exec1("SELECT version FROM schema_version")[0].as<std::size_t>() : 0;
  if (version > schema_steps.size())
    throw pqxx::failure{fmt::format("the database has schema {}, this program knows {}: use a newer oxherd", version,
                                    schema_steps.size())};
  for (; version < schema_steps.size(); ++version) {
    work.exec(std::string{schema_steps[version]});
    work.exec_params0("UPDATE schema_version SET version = $1", version + 1);
  }
  work.commit();
}

int Historian::site_id(pqxx::transaction_base& work, const std::string& name) {
  if (const auto found = sites_.find(name); found != sites_.end()) return found->second;
  work.exec_params0("INSERT INTO site (name) VALUES ($1) ON CONFLICT DO NOTHING", name);
  const int id = work.exec_params1("SELECT id FROM site WHERE name = $1", name)[0].as<int>();
  return sites_.emplace(name, id).first->second;
}

int Historian::channel_id(pqxx::transaction_base& work, const std::string& site, const Sample& sample) {
  key_.clear();
  for (const auto* part : {&site, &sample.room, &sample.sensor, &sample.quantity, &sample.unit})
    key_.append(*part).push_back('\0');
  if (const auto found = channels_.find(key_); found != channels_.end()) return found->second;
  const int of_site = site_id(work, site);
  work.exec_params0(
      "INSERT INTO channel (site, room, sensor, quantity, unit) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO "
      "NOTHING",
      of_site, sample.room, sample.sensor, sample.quantity, sample.unit);
  const int id =
      work.exec_params1("SELECT id FROM channel WHERE site = $1 AND room = $2 AND sensor = $3 AND quantity = $4 "
                        "AND unit = $5",
                        of_site, sample.room, sample.sensor, sample.quantity, sample.unit)[0]
          .as<int>();
  return channels_.emplace(key_, id).first->second;
}

void Historian::make_partitions(pqxx::transaction_base& work, SampleTime at) {
  using namespace std::chrono;
  const year_month_day day{floor<days>(at)};
  const year_month month{day.year(), day.month()};
  const std::int64_t number = std::int64_t{int{month.year()}} * 12 + unsigned{month.month()};
  if (months_.contains(number)) return;
  for (const auto* table : {"sample", "minute"})
    work.exec0(fmt::format("CREATE TABLE IF NOT EXISTS {0}_{1:04}_{2:02} PARTITION OF {0} FOR VALUES FROM ('{3}') TO "
                           "('{4}')",
                           table, int{month.year()}, unsigned{month.month()}, time_text(sys_days{month / 1}),
                           time_text(sys_days{(month + months{1}) / 1})));
  months_.insert(number);
}

Written Historian::write_samples(pqxx::transaction_base& work, const std::vector<Heard>& messages) {
  struct Row {
    int channel;
    const Sample* sample;
  };
  std::vector<Row> rows;
  std::set<SampleTime> minutes;
  for (const auto& heard : messages)
    if (const auto* samples = std::get_if<Samples>(&heard.told.what))
      for (const auto& sample : samples->all) {
        rows.push_back({channel_id(work, heard.told.site, sample), &sample});
        minutes.insert(std::chrono::floor<std::chrono::minutes>(sample.at));
      }
  Written written;
  if (rows.empty()) return written;
  for (const auto& minute : minutes) make_partitions(work, minute);
  // In the order of the key the index grows at few places, and two writers cannot wait for each other in a ring.
  std::sort(rows.begin(), rows.end(), [](const Row& a, const Row& b) {
    return a.channel != b.channel ? a.channel < b.channel : a.sample->at < b.sample->at;
  });
  static const std::array<std::string, 5> columns{"channel", "quality", "at", "value", "words"};
  pqxx::stream_to stream{work, "incoming", columns};
  SampleText text;
  for (const auto& row : rows) stream << text.fields(row.channel, *row.sample);
  stream.complete();
  written.samples = work.exec0(take_over).affected_rows();
  const auto left_out = rows.size() - written.samples;
  if (left_out > 0) written.differing = work.exec1(count_differing)[0].as<std::uint64_t>();
  written.again = left_out - std::min<std::uint64_t>(left_out, written.differing);
  for (const auto& minute : minutes) work.exec_params0(touch_minute, time_text(minute));
  return written;
}

void Historian::write_rest(pqxx::transaction_base& work, const std::vector<Heard>& messages) {
  std::vector<std::string> lines;
  std::map<std::string, const Heard*> standing; // of each topic the last only
  for (const auto& heard : messages) {
    const auto& what = heard.told.what;
    const auto& site = heard.told.site;
    if (const auto* line = std::get_if<JournalLine>(&what))
      lines.push_back(JsonObject{}.integer("site", site_id(work, site)).json("told", line->json).str());
    if (const auto* room = std::get_if<RoomNow>(&what)) standing[site + '/' + room->room] = &heard;
    if (const auto* alarm = std::get_if<AlarmNow>(&what))
      standing[site + '/' + alarm->room + '/' + alarm->alarm] = &heard;
    if (const auto* word = std::get_if<Standing>(&what))
      work.exec_params0(set_standing, site_id(work, site), word->online ? "online" : "offline", time_text(heard.at));
    if (const auto* beat = std::get_if<Beat>(&what); beat != nullptr && !heard.retained)
      work.exec_params0(set_beat, site_id(work, site), beat->evaluations, time_text(beat->at), time_text(heard.at));
  }
  if (!lines.empty()) work.exec_params0(add_lines, json_array(lines));
  for (const auto& [name, heard] : standing) {
    const int site = site_id(work, heard->told.site);
    const auto at = time_text(heard->at);
    if (const auto* room = std::get_if<RoomNow>(&heard->told.what)) {
      if (room->json.empty())
        work.exec_params0("DELETE FROM room WHERE site = $1 AND room = $2", site, room->room);
      else
        work.exec_params0(set_room, site, room->room, room->json, at);
    }
    if (const auto* alarm = std::get_if<AlarmNow>(&heard->told.what)) {
      if (alarm->json.empty())
        work.exec_params0("DELETE FROM alarm WHERE site = $1 AND room = $2 AND alarm = $3", site, alarm->room,
                          alarm->alarm);
      else
        work.exec_params0(set_alarm, site, alarm->room, alarm->alarm, alarm->json, at);
    }
  }
}

tl::expected<Written, HistorianError> Historian::write(const std::vector<Heard>& messages) {
  try {
    pqxx::work work{*connection_};
    const auto written = write_samples(work, messages);
    write_rest(work, messages);
    work.commit();
    return written;
  } catch (const std::exception& thrown) {
    // Rolled back with the transaction: what was added in it is not there.
    sites_.clear();
    channels_.clear();
    months_.clear();
    return tl::unexpected(historian_error(thrown));
  }
}

} // namespace oxherd::daemon::collect
