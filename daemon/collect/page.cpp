#include <utility> // before Asio: std::exchange

#include "daemon/collect/page.hpp"

#include <algorithm>

#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/clock.hpp"
#include "daemon/collect/wellness.hpp"
#include "daemon/json_text.hpp"
#include "daemon/log.hpp"
#include "daemon/named_thread.hpp"
#include "daemon/payloads.hpp"
#include "daemon/run/health_json.hpp"
#include "daemon/time_text.hpp"
#include "daemon/version.hpp"

namespace oxherd::daemon::collect {
namespace {

constexpr std::chrono::milliseconds tell_period{1000};
constexpr const char* ask_the_site =
    "this is the historian of all sites, which only shows: ask the daemon of the site itself";

template <class Result>
std::string told(const tl::expected<Result, HistorianError>& result, std::string (*as_json)(const Result&)) {
  return result ? accepted(as_json(*result)) : declined("internal", "the database: " + result.error().what);
}

} // namespace

Page::Page(const CollectSettings& settings, const std::filesystem::path& state_dir,
           std::function<CollectHealth()> health)
    : settings_{settings}, health_{std::move(health)}, started_{wall_now()} {
  const auto ask = [this](std::string line, std::function<void(std::string)> reply) {
    const std::lock_guard hold{mutex_};
    questions_.push_back({std::move(line), std::move(reply)}); // the server asks 64 at once at most
    wake_.notify_all();
  };
  server_ = std::make_unique<http::HttpServer>(
      *settings_.http, "all sites", state_dir,
      http::DecisionLoop{ask, [](const identity::UserNote&) {}, true, [this] { return why_unwell(health_()); }});
  teller_ = named_thread("teller", [this] { tell(); });
  answerer_ = named_thread("answers", [this] { answer_all(); });
}

Page::~Page() {
  {
    const std::lock_guard hold{mutex_};
    stopping_ = true;
    wake_.notify_all();
  }
  teller_.join();
  answerer_.join();
}

/// Without the database nothing is told, not even a beat: the page then strikes out what it shows.
void Page::tell() {
  std::unique_ptr<Archive> archive;
  std::string trouble;
  std::unique_lock hold{mutex_};
  auto due = std::chrono::steady_clock::now();
  while (!wake_.wait_until(hold, due, [this] { return stopping_; })) {
    hold.unlock();
    auto now_wrong = tell_once(archive);
    if (!now_wrong.empty() && trouble.empty()) log::error("the page shows nothing: {}", now_wrong);
    trouble = std::move(now_wrong);
    due = std::max(due + tell_period, std::chrono::steady_clock::now());
    hold.lock();
  }
}

std::string Page::tell_once(std::unique_ptr<Archive>& archive) {
  if (!archive) {
    auto opened = Archive::open(settings_.database);
    if (!opened) return opened.error().what;
    archive = std::move(*opened);
  }
  const auto rooms = archive->rooms();
  if (!rooms) {
    archive.reset();
    return rooms.error().what;
  }
  const auto now = std::chrono::time_point_cast<std::chrono::microseconds>(std::chrono::system_clock::now());
  std::vector<std::string> all;
  std::set<std::string> names;
  for (const auto& room : *rooms) {
    all.push_back(fleet_room_json(room, now));
    names.insert(name_of_room(room));
    server_->room_told(name_of_room(room), all.back());
  }
  for (const auto& gone : known_)
    if (!names.contains(gone)) server_->removed(gone, {});
  known_ = std::move(names);
  std::uint64_t count = 0;
  {
    const std::lock_guard hold{mutex_};
    rooms_json_ = std::move(all);
    count = ++told_;
  }
  server_->evaluated(count, monotonic_now(), wall_now());
  return {};
}

void Page::answer_all() {
  std::unique_ptr<Archive> archive;
  std::unique_lock hold{mutex_};
  for (;;) {
    wake_.wait(hold, [this] { return stopping_ || !questions_.empty(); });
    if (stopping_) return;
    auto questions = std::exchange(questions_, {});
    hold.unlock();
    for (auto& question : questions) question.reply(answer(archive, question.line));
    hold.lock();
  }
}

std::string Page::answer(std::unique_ptr<Archive>& archive, const std::string& line) {
  const auto request = parse_request(line);
  if (!request) return declined("malformed", request.error());
  if (std::holds_alternative<StatusRequest>(*request)) return accepted(status_json());
  if (std::holds_alternative<AlarmsRequest>(*request)) return accepted(alarms_json());
  const auto* history = std::get_if<HistoryRequest>(&*request);
  const auto* trend = std::get_if<TrendRequest>(&*request);
  if (history == nullptr && trend == nullptr) return declined("refused", ask_the_site);
  if (!archive) {
    auto opened = Archive::open(settings_.database);
    if (!opened) return declined("internal", "the database: " + opened.error().what);
    archive = std::move(*opened);
  }
  std::string answer;
  if (trend != nullptr)
    answer = told<Trend>(archive->trend(trend->query), trend_payload);
  else if (history->of_alarms)
    answer = told<AlarmHistory>(archive->alarms(history->query), history_payload);
  else
    answer = told<ReadingHistory>(archive->readings(history->query), history_payload);
  if (answer.starts_with(R"({"ok":false)")) archive.reset();
  return answer;
}

std::string Page::status_json() const {
  const auto health = health_();
  MqttHealth broker;
  broker.connected = health.broker.connected;
  broker.trouble = health.broker.trouble;
  broker.waiting = health.writer.waiting;
  broker.dropped_measurements = health.writer.malformed;
  StoreHealth records;
  records.writing = health.writer.writing;
  records.trouble = health.writer.trouble;
  records.waiting = health.writer.waiting;
  records.dropped_measurements = health.writer.without_use + health.writer.differing;
  const std::lock_guard hold{mutex_};
  return JsonObject{}
      .text("site", "all sites")
      .text("version", version)
      .text("started", rfc3339(started_))
      .text("now", rfc3339(wall_now()))
      .text("caution", alarms::caution_short())
      .json("rooms", json_array(rooms_json_))
      .json("buses", "[]")
      .json("outputs", "[]")
      .json("mqtt", mqtt_json(broker))
      .json("sparkplug", sparkplug_json({}))
      .json("notify", R"({"configured":false})")
      .json("store", store_json(records))
      .json("http", http_json(server_->health()))
      .json("collect", collect_json(health))
      .integer("evaluations", static_cast<std::int64_t>(told_))
      .integer("polls_dropped", 0)
      .str();
}

std::string Page::alarms_json() const {
  const std::lock_guard hold{mutex_};
  std::vector<std::string> standing;
  for (const auto& text : rooms_json_) {
    const auto room = nlohmann::ordered_json::parse(text, nullptr, false);
    for (const auto& alarm : room.value("alarms", nlohmann::ordered_json::array())) standing.push_back(alarm.dump());
  }
  return JsonObject{}
      .text("now", rfc3339(wall_now()))
      .text("caution", alarms::caution_short())
      .json("alarms", json_array(standing))
      .str();
}

} // namespace oxherd::daemon::collect
