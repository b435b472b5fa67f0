#pragma once

#include <optional>
#include <string>

#include "daemon/http/http_server.hpp"
#include "daemon/mqtt/mqtt_sink.hpp"
#include "daemon/sparkplug/sink.hpp"
#include "daemon/store/store.hpp"

// How broker, records and page are doing, as a status answer has it: of a daemon, and of the historian of many sites.
namespace oxherd::daemon {

[[nodiscard]] std::string mqtt_json(const std::optional<MqttHealth>& mqtt); ///< empty: none is configured
[[nodiscard]] std::string sparkplug_json(const std::optional<sparkplug::Health>& sparkplug); ///< likewise
[[nodiscard]] std::string store_json(const StoreHealth& store);
[[nodiscard]] std::string http_json(const std::optional<http::HttpHealth>& http); ///< likewise

} // namespace oxherd::daemon
