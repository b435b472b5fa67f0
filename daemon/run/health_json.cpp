#include "daemon/run/health_json.hpp"

#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {

std::string mqtt_json(const std::optional<MqttHealth>& mqtt) {
  const MqttHealth m = mqtt.value_or(MqttHealth{});
  return JsonObject{}
      .flag("configured", mqtt.has_value())
      .flag("connected", m.connected)
      .text("trouble", m.trouble)
      .text("disk_trouble", m.disk_trouble)
      .integer("waiting", static_cast<std::int64_t>(m.waiting))
      .integer("on_disk", static_cast<std::int64_t>(m.on_disk))
      .integer("journal_waiting", static_cast<std::int64_t>(m.journal_waiting))
      .integer("dropped", static_cast<std::int64_t>(m.dropped_measurements))
      .str();
}

std::string sparkplug_json(const std::optional<sparkplug::Health>& sparkplug) {
  const auto s = sparkplug.value_or(sparkplug::Health{});
  return JsonObject{}
      .flag("configured", sparkplug.has_value())
      .flag("connected", s.connected)
      .text("trouble", s.trouble)
      .integer("births", static_cast<std::int64_t>(s.births))
      .integer("commands_ignored", static_cast<std::int64_t>(s.commands_ignored))
      .str();
}

std::string store_json(const StoreHealth& store) {
  return JsonObject{}
      .flag("writing", store.writing)
      .text("trouble", store.trouble)
      .integer("waiting", static_cast<std::int64_t>(store.waiting))
      .integer("dropped", static_cast<std::int64_t>(store.dropped_measurements))
      .json("bytes", store.bytes ? std::to_string(*store.bytes) : "null")
      .number("free_share", store.free_share)
      .flag("shortened", store.shortened)
      .str();
}

std::string http_json(const std::optional<http::HttpHealth>& http) {
  const http::HttpHealth h = http.value_or(http::HttpHealth{});
  return JsonObject{}
      .flag("configured", http.has_value())
      .flag("listening", h.listening)
      .text("address", h.address)
      .text("trouble", h.trouble)
      .json("certificate_until", h.certificate_until ? json_string(rfc3339(*h.certificate_until)) : "null")
      .integer("connections", static_cast<std::int64_t>(h.sessions))
      .integer("streams", static_cast<std::int64_t>(h.streams))
      .str();
}

} // namespace oxherd::daemon
