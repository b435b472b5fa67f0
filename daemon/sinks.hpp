#pragma once

#include <filesystem>
#include <memory>
#include <vector>

#include "config/settings.hpp"
#include "daemon/http/http_server.hpp"
#include "daemon/mqtt/mqtt_sink.hpp"
#include "daemon/notify/notify_sink.hpp"
#include "daemon/sink.hpp"
#include "daemon/sparkplug/sink.hpp"

namespace oxherd::daemon {

/// The outputs for records that the settings ask for, besides the store. A new one is one more line in sinks.cpp.
struct Sinks {
  std::unique_ptr<MqttSink> mqtt;                      ///< empty when no broker is configured
  std::unique_ptr<sparkplug::SparkplugSink> sparkplug; ///< empty when it is not asked for
  std::unique_ptr<NotifySink> notify;                  ///< empty when neither a contact nor a watcher is
  std::unique_ptr<http::HttpServer> http;              ///< empty when it is switched off
  [[nodiscard]] std::vector<Sink*> all() const;
};

/// Takes out what cannot go on under the next settings. To be destroyed where nobody waits, before `renew`.
[[nodiscard]] Sinks leaving(Sinks& sinks, const config::Settings& before, const config::Settings& next);
/// Starts what the settings ask for and is not there; what is there gets the new settings.
/// @param loop       for those who ask through the page
/// @param last_line  the number of the journal's last line
void renew(Sinks& sinks, const config::Settings& settings, const std::filesystem::path& state_dir,
           const http::DecisionLoop& loop, std::int64_t last_line);

} // namespace oxherd::daemon
