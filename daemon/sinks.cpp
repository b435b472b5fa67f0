#include "daemon/sinks.hpp"

#include <utility>

#include "daemon/sparkplug/room_metrics.hpp"

namespace oxherd::daemon {
namespace {

/// A birth says once what will ever be told, so that other rooms, sensors or alarms need another one.
bool is_another_node(const config::Settings& before, const config::Settings& next) {
  return before.mqtt != next.mqtt || sparkplug::plan_of(before) != sparkplug::plan_of(next);
}

bool tells_anybody(const config::Settings& settings) { return settings.notify || settings.watcher; }

} // namespace

Sinks leaving(Sinks& sinks, const config::Settings& before, const config::Settings& next) {
  Sinks gone;
  if (before.mqtt != next.mqtt) gone.mqtt = std::exchange(sinks.mqtt, nullptr);
  if (is_another_node(before, next)) gone.sparkplug = std::exchange(sinks.sparkplug, nullptr);
  if (before.http != next.http) gone.http = std::exchange(sinks.http, nullptr);
  if (!tells_anybody(next)) gone.notify = std::exchange(sinks.notify, nullptr);
  return gone;
}

void renew(Sinks& sinks, const config::Settings& settings, const std::filesystem::path& state_dir,
           const http::DecisionLoop& loop, std::int64_t last_line) {
  if (settings.mqtt && !sinks.mqtt)
    sinks.mqtt = MqttSink::start(*settings.mqtt, settings.site.name, state_dir, {}, last_line);
  if (settings.mqtt && settings.mqtt->sparkplug && !sinks.sparkplug)
    sinks.sparkplug =
        sparkplug::SparkplugSink::start(*settings.mqtt, settings.site.name, sparkplug::plan_of(settings), state_dir);
  auto publish = sinks.mqtt ? sinks.mqtt->publisher() : Publish{};
  if (sinks.notify)
    sinks.notify->configure(settings, std::move(publish));
  else if (tells_anybody(settings))
    sinks.notify = std::make_unique<NotifySink>(settings, state_dir, std::move(publish));
  if (settings.http && !sinks.http)
    sinks.http = std::make_unique<http::HttpServer>(*settings.http, settings.site.name, state_dir, loop);
}

std::vector<Sink*> Sinks::all() const {
  std::vector<Sink*> list;
  if (mqtt) list.push_back(mqtt.get());
  if (sparkplug) list.push_back(sparkplug.get());
  if (notify) list.push_back(notify.get());
  if (http) list.push_back(http.get());
  return list;
}

} // namespace oxherd::daemon
