#include "daemon/run/answers.hpp"

#include <algorithm>

#include "alarms/patterns.hpp"
#include "alarms/texts.hpp"
#include "daemon/json_text.hpp"
#include "daemon/payloads.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

template <class Items, class F> std::string array_of(const Items& items, F&& element) {
  std::vector<std::string> elements;
  for (const auto& item : items) elements.push_back(element(item));
  return json_array(elements);
}

std::string bus_json(const std::pair<std::string, BusHealth>& bus) {
  return JsonObject{}
      .text("name", bus.first)
      .flag("connected", bus.second.connected)
      .text("trouble", bus.second.trouble)
      .integer("polls", static_cast<std::int64_t>(bus.second.polls))
      .integer("failures", static_cast<std::int64_t>(bus.second.failures))
      .str();
}

/// From a decision until the device had accepted it, since the start or the last reload.
std::string latency_json(const Latency& latency) {
  const auto ms = [](std::chrono::microseconds t) { return static_cast<double>(t.count()) / 1e3; };
  return JsonObject{}
      .integer("count", static_cast<std::int64_t>(latency.count()))
      .number("p50_ms", ms(latency.quantile(0.5)))
      .number("p99_ms", ms(latency.quantile(0.99)))
      .number("max_ms", ms(latency.longest()))
      .str();
}

/// Null for an output that warns nobody by itself.
std::string proof_json(const OutputHealth& output, const ProofRecord& record, WallTime wall) {
  if (!output.provable) return "null";
  const auto due = record.due(output.prove_every, wall);
  const auto time = [](const std::optional<WallTime>& t) { return t ? json_string(rfc3339(*t)) : "null"; };
  return JsonObject{}
      .text("test_by", output.proof_by)
      .flag("driving", output.proof_driving)
      .flag("awaiting_answer", !output.proof_by.empty() && !output.proof_driving)
      .json("last", record.answered ? json_string(record.failed ? "failed" : "worked") : "null")
      .json("last_at", time(record.answered))
      .text("last_by", record.by)
      .json("worked_at", time(record.worked))
      .json("due", time(due))
      .flag("overdue", due && *due <= wall)
      .str();
}

std::string output_json(const OutputHealth& output, const ProofRecord& record, WallTime wall) {
  return JsonObject{}
      .text("name", output.name)
      .text("bus", output.bus)
      .text("kind", output.kind)
      .json("rooms", array_of(output.rooms, [](const std::string& room) { return json_string(room); }))
      .flag("written", output.written)
      .flag("confirmed", output.confirmed)
      .text("trouble", output.trouble)
      .json("proof", proof_json(output, record, wall))
      .json("decision_to_write", latency_json(output.latency))
      .str();
}

std::string mqtt_json(const std::optional<MqttHealth>& mqtt) {
  const MqttHealth m = mqtt.value_or(MqttHealth{});
  return JsonObject{}
      .flag("configured", mqtt.has_value())
      .flag("connected", m.connected)
      .text("trouble", m.trouble)
      .integer("waiting", static_cast<std::int64_t>(m.waiting))
      .integer("dropped", static_cast<std::int64_t>(m.dropped_measurements))
      .str();
}

std::string store_json(const StoreHealth& store) {
  return JsonObject{}
      .flag("writing", store.writing)
      .text("trouble", store.trouble)
      .integer("waiting", static_cast<std::int64_t>(store.waiting))
      .integer("dropped", static_cast<std::int64_t>(store.dropped_measurements))
      .str();
}

bool more_urgent(const AlarmStatus& a, const AlarmStatus& b) {
  const int mine = alarms::urgency(a.state), other = alarms::urgency(b.state);
  if (mine != other) return mine < other;
  if (a.priority != b.priority) return a.priority > b.priority;
  return a.since < b.since;
}

} // namespace

std::string status_answer(const Site& site, const Surroundings& around, Monotonic now, WallTime wall) {
  std::vector<std::string> rooms;
  for (std::size_t r = 0; r < site.settings().rooms.size(); ++r)
    rooms.push_back(room_answer(site.status(r, now, wall)));
  return JsonObject{}
      .text("site", site.settings().site.name)
      .text("version", around.version)
      .text("started", rfc3339(around.started))
      .text("now", rfc3339(wall))
      .text("caution", alarms::caution_short())
      .json("rooms", json_array(rooms))
      .json("buses", array_of(around.buses, bus_json))
      .json("outputs",
            array_of(around.outputs,
                     [&](const OutputHealth& output) {
                       const auto found = around.proofs.find(output.name);
                       return output_json(output, found == around.proofs.end() ? ProofRecord{} : found->second, wall);
                     }))
      .json("mqtt", mqtt_json(around.mqtt))
      .json("notify", around.notify ? notify::notify_summary(*around.notify) : R"({"configured":false})")
      .json("store", store_json(around.store))
      .integer("evaluations", static_cast<std::int64_t>(site.evaluations()))
      .integer("polls_dropped", static_cast<std::int64_t>(around.polls_dropped))
      .str();
}

std::string alarms_answer(const Site& site, Monotonic now, WallTime wall) {
  std::vector<AlarmStatus> all;
  for (std::size_t r = 0; r < site.settings().rooms.size(); ++r)
    for (auto& alarm : site.status(r, now, wall).alarms) all.push_back(std::move(alarm));
  std::stable_sort(all.begin(), all.end(), more_urgent);
  return JsonObject{}
      .text("now", rfc3339(wall))
      .text("caution", alarms::caution_short())
      .json("alarms", array_of(all, alarm_payload))
      .str();
}

} // namespace oxherd::daemon
