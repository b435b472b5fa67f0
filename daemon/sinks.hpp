#pragma once

#include <memory>
#include <vector>

#include "config/settings.hpp"
#include "daemon/mqtt/mqtt_sink.hpp"
#include "daemon/sink.hpp"

namespace oxherd::daemon {

/// The outputs for records that the settings ask for, besides the store. A new one is one more line in sinks.cpp.
struct Sinks {
  std::unique_ptr<MqttSink> mqtt; ///< empty when no broker is configured
  [[nodiscard]] std::vector<Sink*> all() const;
};

[[nodiscard]] Sinks make_sinks(const config::Settings& settings);

} // namespace oxherd::daemon
