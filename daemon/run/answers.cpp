#include "daemon/run/answers.hpp"

#include <algorithm>

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

std::string output_json(const OutputHealth& output) {
  return JsonObject{}
      .text("name", output.name)
      .text("bus", output.bus)
      .flag("written", output.written)
      .text("trouble", output.trouble)
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

/// Unacknowledged before everything else, because it waits for a person.
int urgency(alarms::State state) {
  switch (state) {
  case alarms::State::unacknowledged:
  case alarms::State::latched_unacknowledged: return 0;
  case alarms::State::returned_to_normal_unacknowledged: return 1;
  case alarms::State::acknowledged: return 2;
  case alarms::State::latched_acknowledged: return 3;
  case alarms::State::out_of_service:
  case alarms::State::shelved:
  case alarms::State::suppressed_by_design: return 4;
  case alarms::State::normal: return 5;
  }
  return 5;
}

bool more_urgent(const AlarmStatus& a, const AlarmStatus& b) {
  if (urgency(a.state) != urgency(b.state)) return urgency(a.state) < urgency(b.state);
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
      .json("outputs", array_of(around.outputs, output_json))
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
