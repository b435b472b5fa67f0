#include "daemon/run/answers.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include <fmt/ranges.h>

#include "alarms/patterns.hpp"
#include "alarms/texts.hpp"
#include "daemon/json_text.hpp"
#include "daemon/payloads.hpp"
#include "daemon/run/health_json.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

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
  std::vector<std::string> within;
  for (std::size_t i = 0; i < Latency::bounds.size(); ++i)
    within.push_back(JsonObject{}
                         .number("ms", ms(Latency::bounds[i]))
                         .integer("count", static_cast<std::int64_t>(latency.within()[i]))
                         .str());
  return JsonObject{}
      .integer("count", static_cast<std::int64_t>(latency.count()))
      .number("p50_ms", ms(latency.quantile(0.5)))
      .number("p99_ms", ms(latency.quantile(0.99)))
      .number("max_ms", ms(latency.longest()))
      .number("total_ms", ms(latency.total()))
      .json("within", fmt::format("[{}]", fmt::join(within, ",")))
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
      .json("rooms", json_array_of(output.rooms, [](const std::string& room) { return json_string(room); }))
      .flag("written", output.written)
      .flag("confirmed", output.confirmed)
      .text("trouble", output.trouble)
      .json("proof", proof_json(output, record, wall))
      .json("decision_to_write", latency_json(output.latency))
      .str();
}

bool more_urgent(const AlarmStatus& a, const AlarmStatus& b) {
  const int mine = alarms::urgency(a.state), other = alarms::urgency(b.state);
  if (mine != other) return mine < other;
  if (a.priority != b.priority) return a.priority > b.priority;
  return a.since < b.since;
}

} // namespace

std::string status_answer(const std::vector<RoomStatus>& rooms, const Surroundings& around, WallTime wall) {
  return JsonObject{}
      .text("site", around.site)
      .text("version", around.version)
      .text("started", rfc3339(around.started))
      .text("now", rfc3339(wall))
      .text("caution", alarms::caution_short())
      .json("rooms", json_array_of(rooms, room_answer))
      .json("buses", json_array_of(around.buses, bus_json))
      .json("outputs", json_array_of(around.outputs,
                                     [&](const OutputHealth& output) {
                                       const auto found = around.proofs.find(output.name);
                                       return output_json(
                                           output, found == around.proofs.end() ? ProofRecord{} : found->second, wall);
                                     }))
      .json("mqtt", mqtt_json(around.mqtt))
      .json("sparkplug", sparkplug_json(around.sparkplug))
      .json("notify", around.notify ? notify::notify_summary(*around.notify) : R"({"configured":false})")
      .json("store", store_json(around.store))
      .json("http", http_json(around.http))
      .integer("evaluations", static_cast<std::int64_t>(around.evaluations))
      .integer("polls_dropped", static_cast<std::int64_t>(around.polls_dropped))
      .str();
}

std::string alarms_answer(const std::vector<RoomStatus>& rooms, WallTime wall) {
  std::vector<AlarmStatus> all;
  for (const auto& room : rooms) all.insert(all.end(), room.alarms.begin(), room.alarms.end());
  std::stable_sort(all.begin(), all.end(), more_urgent);
  return JsonObject{}
      .text("now", rfc3339(wall))
      .text("caution", alarms::caution_short())
      .json("alarms", json_array_of(all, alarm_payload))
      .str();
}

} // namespace oxherd::daemon
