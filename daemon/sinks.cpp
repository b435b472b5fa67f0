#include "daemon/sinks.hpp"

namespace oxherd::daemon {

Sinks make_sinks(const config::Settings& settings) {
  Sinks sinks;
  if (settings.mqtt) sinks.mqtt = MqttSink::start(*settings.mqtt, settings.site.name);
  return sinks;
}

std::vector<Sink*> Sinks::all() const {
  std::vector<Sink*> list;
  if (mqtt) list.push_back(mqtt.get());
  return list;
}

} // namespace oxherd::daemon
