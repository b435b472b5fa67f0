#include "daemon/http/metrics.hpp"

#include <fmt/format.h>
#include <nlohmann/json.hpp>

#include "daemon/json_member.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::http {
namespace {

using nlohmann::json;
using Labels = std::initializer_list<std::pair<std::string_view, std::string>>;

const json& list_of(const json& object, const char* key) {
  static const json none = json::array();
  const auto found = object.find(key);
  return found != object.end() && found->is_array() ? *found : none;
}

/// What stands in a label's quotes.
std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == '\n') out += "\\n";
    if (c == '"' || c == '\\') out += '\\';
    if (c != '\n') out += c;
  }
  return out;
}

/// One metric family: its head, then its lines. A family without a line is left out.
class Family {
public:
  /// @param unit  empty: none; else the name ends with it
  Family(Exposition form, const std::string& name, std::string_view type, std::string_view unit, std::string_view help)
      : line_name_{type == "counter" ? name + "_total" : name} {
    // The older form knows no units, no state sets, and names a counter's family as its lines.
    const bool open = form == Exposition::open_metrics;
    const auto& family = open ? name : line_name_;
    head_ = fmt::format("# TYPE {} {}\n", family, !open && type == "stateset" ? "gauge" : type);
    if (open && !unit.empty()) head_ += fmt::format("# UNIT {} {}\n", family, unit);
    head_ += fmt::format("# HELP {} {}\n", family, help);
  }
  void add(Labels labels, const json& value) { add_line("", labels, value); }
  /// A line of a histogram, whose name goes on with `part`: "_bucket", "_sum", "_count".
  void add_line(std::string_view part, Labels labels, const json& value) {
    if (!value.is_number() && !value.is_boolean()) return;
    std::string inside;
    for (const auto& [name, text] : labels)
      inside += fmt::format("{}{}=\"{}\"", inside.empty() ? "" : ",", name, escaped(text));
    const std::string number = value.is_boolean() ? (value.get<bool>() ? "1" : "0") : json_number(value.get<double>());
    lines_ += fmt::format("{}{}{} {}\n", line_name_, part, inside.empty() ? "" : fmt::format("{{{}}}", inside), number);
  }
  [[nodiscard]] std::string str() const { return lines_.empty() ? std::string{} : head_ + lines_; }

private:
  std::string line_name_, head_, lines_;
};

json value_in(const json& object, const char* key) {
  const auto found = object.find(key);
  return found == object.end() ? json{} : *found;
}

std::string rooms_text(const json& status, Exposition form) {
  Family monitored{form, "oxherd_room_monitored", "gauge", "", "1 while somebody can say what the air of the room is."};
  Family oxygen{form, "oxherd_room_oxygen_ratio", "gauge", "ratio", "Voted oxygen, fraction of dry air."};
  Family expanded{form, "oxherd_room_oxygen_expanded_uncertainty_ratio", "gauge", "ratio",
                  "Expanded uncertainty of the voted oxygen."};
  Family co2{form, "oxherd_room_carbon_dioxide_ratio", "gauge", "ratio", "Voted carbon dioxide."};
  Family relay{form, "oxherd_room_relay_energised", "gauge", "", "1 while the relay of the room is held."};
  Family alarm{form, "oxherd_alarm_state", "stateset", "", "State of each alarm, as IEC 62682 names them."};
  Family usable{form, "oxherd_sensor_good", "gauge", "", "1 while the reading of the sensor is good."};
  for (const auto& room : list_of(status, "rooms")) {
    const auto name = text_in(room, "room");
    monitored.add({{"room", name}}, value_in(room, "monitored"));
    oxygen.add({{"room", name}}, value_in(room, "dry_fraction"));
    expanded.add({{"room", name}}, value_in(room, "u_expanded"));
    co2.add({{"room", name}}, value_in(room, "co2_fraction"));
    relay.add({{"room", name}}, value_in(room, "relay_energised"));
    for (const auto& one : list_of(room, "alarms"))
      for (const char* state :
           {"normal", "unacknowledged", "acknowledged", "returned_to_normal_unacknowledged", "latched_unacknowledged",
            "latched_acknowledged", "shelved", "suppressed_by_design", "out_of_service"})
        alarm.add({{"room", name},
                   {"alarm", text_in(one, "alarm")},
                   {"priority", text_in(one, "priority")},
                   {"oxherd_alarm_state", state}},
                  text_in(one, "state") == state);
    for (const auto& sensor : list_of(room, "sensors"))
      usable.add({{"room", name}, {"sensor", text_in(sensor, "sensor")}}, text_in(sensor, "quality") == "good");
  }
  return monitored.str() + oxygen.str() + expanded.str() + co2.str() + relay.str() + alarm.str() + usable.str();
}

/// From a decision until the device had accepted it: a histogram in seconds.
void add_took(Family& took, const std::string& output, const json& latency) {
  if (!latency.is_object()) return;
  for (const auto& one : list_of(latency, "within"))
    took.add_line("_bucket", {{"output", output}, {"le", json_number(one.value("ms", 0.0) / 1e3)}},
                  value_in(one, "count"));
  took.add_line("_bucket", {{"output", output}, {"le", "+Inf"}}, value_in(latency, "count"));
  took.add_line("_sum", {{"output", output}}, latency.value("total_ms", 0.0) / 1e3);
  took.add_line("_count", {{"output", output}}, value_in(latency, "count"));
}

std::string daemon_text(const json& status, Exposition form) {
  Family up{form, "oxherd_bus_connected", "gauge", "", "1 while the bus has its connection."};
  Family polls{form, "oxherd_bus_polls", "counter", "", "Polls of the bus."};
  Family failures{form, "oxherd_bus_failures", "counter", "", "Polls of the bus that failed."};
  for (const auto& bus : list_of(status, "buses")) {
    const auto name = text_in(bus, "name");
    up.add({{"bus", name}}, value_in(bus, "connected"));
    polls.add({{"bus", name}}, value_in(bus, "polls"));
    failures.add({{"bus", name}}, value_in(bus, "failures"));
  }
  Family confirmed{form, "oxherd_output_confirmed", "gauge", "", "1 while the output is known to do what was decided."};
  Family took{form, "oxherd_output_decision_to_write_seconds", "histogram", "seconds",
              "From a decision until the device of the output had accepted it."};
  for (const auto& output : list_of(status, "outputs")) {
    confirmed.add({{"output", text_in(output, "name")}}, value_in(output, "confirmed"));
    add_took(took, text_in(output, "name"), value_in(output, "decision_to_write"));
  }
  Family broker{form, "oxherd_broker_connected", "gauge", "", "1 while the MQTT broker is connected."};
  Family queued{form, "oxherd_broker_waiting", "gauge", "", "Messages that the MQTT broker has not acknowledged."};
  Family spooled{form, "oxherd_broker_waiting_on_disk", "gauge", "", "Of these, measurements on disk."};
  Family given_up{form, "oxherd_broker_measurements_dropped", "counter", "",
                  "Measurements given up because too many waited for the MQTT broker."};
  if (const auto mqtt = value_in(status, "mqtt"); mqtt.is_object() && mqtt.value("configured", false)) {
    broker.add({}, value_in(mqtt, "connected"));
    queued.add({}, value_in(mqtt, "waiting"));
    spooled.add({}, value_in(mqtt, "on_disk"));
    given_up.add({}, value_in(mqtt, "dropped"));
  }
  Family edge_node{form, "oxherd_sparkplug_connected", "gauge", "", "1 while the Sparkplug edge node is connected."};
  Family ignored{form, "oxherd_sparkplug_commands_ignored", "counter", "", "Sparkplug commands that were not obeyed."};
  if (const auto node = value_in(status, "sparkplug"); node.is_object() && node.value("configured", false)) {
    edge_node.add({}, value_in(node, "connected"));
    ignored.add({}, value_in(node, "commands_ignored"));
  }
  Family writing{form, "oxherd_store_writing", "gauge", "", "1 while records reach the disk."};
  Family waiting{form, "oxherd_store_waiting", "gauge", "", "Records that wait for the disk."};
  if (const auto store = value_in(status, "store"); store.is_object()) {
    writing.add({}, value_in(store, "writing"));
    waiting.add({}, value_in(store, "waiting"));
  }
  Family evaluations{form, "oxherd_evaluations", "counter", "", "Completed evaluations of the whole site."};
  evaluations.add({}, value_in(status, "evaluations"));
  Family dropped{form, "oxherd_polls_dropped", "counter", "", "Polls that the decision loop had no room for."};
  dropped.add({}, value_in(status, "polls_dropped"));
  return up.str() + polls.str() + failures.str() + confirmed.str() + took.str() + broker.str() + queued.str() +
         spooled.str() + given_up.str() + edge_node.str() + ignored.str() + writing.str() + waiting.str() +
         evaluations.str() + dropped.str();
}

/// What the historian of many sites has kept; a daemon has nothing of it.
std::string collect_text(const json& status, Exposition form) {
  const auto collect = value_in(status, "collect");
  if (!collect.is_object()) return {};
  Family messages{form, "oxherd_collect_messages", "counter", "", "Messages of the sites that came."};
  messages.add({}, value_in(collect, "received"));
  Family malformed{form, "oxherd_collect_messages_malformed", "counter", "",
                   "Messages left out: not to be understood, or refused by the database."};
  malformed.add({}, value_in(collect, "malformed"));
  Family samples{form, "oxherd_collect_samples", "counter", "", "Samples by what became of them."};
  for (const char* outcome : {"stored", "again", "differing", "without_use"})
    samples.add({{"outcome", outcome}}, value_in(collect, outcome));
  Family age{form, "oxherd_collect_commit_age_seconds", "gauge", "seconds",
             "Time since the database confirmed something; it is asked every ten seconds."};
  age.add({}, value_in(collect, "commit_age_s"));
  Family rolled{form, "oxherd_collect_rolling_up", "gauge", "", "1 while minutes and hours are made of the samples."};
  rolled.add({}, text_in(collect, "roll_up_trouble").empty());
  return messages.str() + malformed.str() + samples.str() + age.str() + rolled.str();
}

} // namespace

Exposition exposition_for(const HttpRequest& request) {
  const bool open = request.header("accept").find("application/openmetrics-text") != std::string_view::npos;
  return open ? Exposition::open_metrics : Exposition::text;
}

HttpResponse metrics_answer(Exposition form, const std::string& status_line) {
  const json answer = json::parse(status_line, nullptr, false);
  if (!answer.is_object() || !answer.contains("result")) return problem(500, "the daemon gave no status");
  const auto& status = answer["result"];
  const bool open = form == Exposition::open_metrics;
  return {200,
          open ? "application/openmetrics-text; version=1.0.0; charset=utf-8"
               : "text/plain; version=0.0.4; charset=utf-8",
          rooms_text(status, form) + daemon_text(status, form) + collect_text(status, form) + (open ? "# EOF\n" : ""),
          {}};
}

} // namespace oxherd::daemon::http
