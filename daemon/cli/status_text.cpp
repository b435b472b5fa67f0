#include "daemon/cli/status_text.hpp"

#include <algorithm>
#include <vector>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/cli/alarm_lines.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/regime_lines.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

/// How much a room needs a person; the largest is shown first.
int urgency(const json& room) {
  int out = 0;
  for (const auto& sensor : list_of(room, "sensors"))
    if (text_of(sensor, "status") != "ok") out = std::max(out, 1);
  for (const auto& alarm : list_of(room, "alarms"))
    if (!is_normal(alarm)) out = std::max(out, waits_for_acknowledgement(alarm) ? 3 : 2);
  if (!is_true(room, "monitored")) out = std::max(out, 4);
  for (const auto& alarm : list_of(room, "alarms"))
    if (waits_for_acknowledgement(alarm) && is_true(alarm, "safety") && is_true(alarm, "present")) out = 5;
  return out;
}

std::string relay_text(const json& room) {
  const auto found = room.find("relay_energised");
  if (found == room.end() || !found->is_boolean()) return "no alarm relay";
  return found->get<bool>() ? "alarm relay energised" : "alarm relay DROPPED (alarm)";
}

bool has_sensor_for(const json& room, std::string_view measurand) {
  for (const auto& sensor : list_of(room, "sensors"))
    for (const auto& item : list_of(sensor, "measures"))
      if (item.is_string() && item.get_ref<const std::string&>() == measurand) return true;
  return false;
}

std::string values_line(const json& room) {
  std::string out = "  ";
  if (const auto dry = number_of(room, "dry_fraction")) {
    out += fmt::format("oxygen {:.2f} %", *dry * 100.0);
    if (const auto u = number_of(room, "u_expanded"))
      out += fmt::format(" ± {:.2f} % (k = {:g})", *u * 100.0, number_of(room, "coverage_factor").value_or(2.0));
    out += ", dry basis; ";
  } else
    out += has_sensor_for(room, "oxygen") ? "oxygen unknown; " : "oxygen not measured here; ";
  if (const auto co2 = number_of(room, "co2_fraction"))
    out += fmt::format("CO2 {:.0f} ppm; ", *co2 * 1e6);
  else if (has_sensor_for(room, "carbon-dioxide"))
    out += "CO2 unknown; ";
  return out + relay_text(room) + '\n';
}

std::string last_values(const json& sensor) {
  const json& last = object_of(sensor, "last");
  std::string out;
  const auto add = [&](std::string_view key, auto&& words) {
    const auto value = number_of(last, key);
    if (value) out += fmt::format("{}{}", out.empty() ? "" : ", ", words(*value));
  };
  add("dry_fraction", [&](double x) {
    const auto u = number_of(last, "u_dry_fraction");
    return fmt::format("{:.2f} %", x * 100.0) + (u ? fmt::format(" ± {:.2f} %", 2.0 * *u * 100.0) : "");
  });
  add("raw_mv", [](double x) { return fmt::format("{:.3f} mV", x); });
  add("temperature_c", [](double x) { return fmt::format("{:.1f} °C", x); });
  add("humidity_percent", [](double x) { return fmt::format("{:.0f} %RH", x); });
  add("pressure_kpa", [](double x) { return fmt::format("{:.2f} kPa", x); });
  add("co2_fraction", [](double x) { return fmt::format("{:.0f} ppm CO2", x * 1e6); });
  if (const auto door = last.find("door_open"); door != last.end() && door->is_boolean())
    out += fmt::format("{}{}", out.empty() ? "" : ", ", door->get<bool>() ? "open" : "closed");
  return out.empty() ? "-" : out;
}

std::string measures_text(const json& sensor) {
  std::string out;
  for (const auto& item : list_of(sensor, "measures"))
    if (item.is_string()) out += (out.empty() ? "" : ", ") + printable(item.get_ref<const std::string&>());
  return out;
}

std::string status_words(const json& sensor) {
  auto status = text_of(sensor, "status");
  std::ranges::replace(status, '_', ' ');
  const auto quality = text_of(sensor, "quality");
  return status == "ok" ? quality : fmt::format("{}: {}", quality, status);
}

std::string reasons_text(const json& sensor) {
  std::string out;
  for (const auto& reason : list_of(sensor, "reasons")) out += (out.empty() ? "" : "; ") + text_of(reason, "text");
  return out;
}

std::string room_lines(const Console& console, const json& room, const std::string& now) {
  std::string out = fmt::format("{} ({})\n", text_of(room, "room"), text_of(room, "regime"));
  if (!is_true(room, "monitored")) {
    const auto reason = text_of(room, "reason");
    out += "  " +
           stressed(console, Stress::alarm,
                    fmt::format("NOT MONITORED: treat its air as unknown. {}",
                                reason.empty() ? std::string{"No reason was given."} : "Reason: " + reason)) +
           '\n';
  }
  out += values_line(room);
  if (!text_of(room, "door").empty() || !object_of(room, "entry_lock").empty())
    out += fmt::format("  {}; {}\n", door_words(room), entry_lock_words(room));
  if (const auto silent = not_in_force_words(room); !silent.empty()) out += "  " + silent + '\n';
  for (const auto& alarm : list_of(room, "alarms"))
    if (!is_normal(alarm)) out += alarm_lines(console, alarm, now, 2);
  Table sensors{2};
  for (const auto& sensor : list_of(room, "sensors")) {
    const auto age = number_of(sensor, "age_s");
    sensors.add({text_of(sensor, "sensor"), measures_text(sensor), last_values(sensor),
                 age ? duration_text(*age) + " old" : "NO DATA", status_words(sensor), reasons_text(sensor)});
  }
  return out + sensors.text() + '\n';
}

std::string queue_text(const json& part) {
  const auto count = [&](std::string_view key) { return number_of(part, key).value_or(0.0); };
  return fmt::format("{:.0f} waiting, {:.0f} dropped", count("waiting"), count("dropped"));
}

std::string output_words(const json& output) {
  const auto confirmed = output.find("confirmed");
  const bool known = confirmed != output.end() && confirmed->is_boolean();
  if (known && !confirmed->get<bool>()) return "LOST";
  if (!is_true(output, "written")) return "NOT WRITTEN";
  return known ? "confirmed" : "written";
}

/// What a person owes the output; nothing while its proof is not due.
std::string proof_words(const json& output) {
  const json& proof = object_of(output, "proof");
  const auto by = text_of(proof, "test_by");
  if (is_true(proof, "driving")) return "PROOF TEST by " + by;
  if (is_true(proof, "awaiting_answer")) return "PROOF TEST by " + by + ": say what was seen";
  const auto is_text = [&](std::string_view key) { return !text_of(proof, key).empty(); };
  if (text_of(proof, "last") == "failed") return "proof test FAILED " + local_time_of(proof, "last_at");
  if (!is_true(proof, "overdue")) return is_text("due") ? "proof due " + local_time_of(proof, "due") : std::string{};
  return is_text("worked_at") ? "proof OVERDUE since " + local_time_of(proof, "due") : "NEVER PROVED";
}

std::string joined(const std::string& one, const std::string& other) {
  return one + (one.empty() || other.empty() ? "" : "; ") + other;
}

void add_people(Table& table, const json& notify) {
  if (is_true(notify, "configured")) {
    const auto& troubles = list_of(notify, "troubles");
    table.add({"people", troubles.empty() ? "told of alarms" : "MAY NOT BE TOLD",
               fmt::format("{:.0f} waiting", number_of(notify, "waiting").value_or(0.0)),
               troubles.empty() || !troubles.front().is_string()
                   ? ""
                   : printable(troubles.front().get_ref<const std::string&>())});
  } else
    table.add({"people", "nobody told"});
  const json& watcher = object_of(notify, "watcher");
  if (!is_true(watcher, "configured")) return;
  const auto trouble = text_of(watcher, "trouble");
  table.add({"watcher", trouble.empty() ? "takes the heartbeat" : "NO HEARTBEAT",
             "last taken " + local_time_of(watcher, "last_taken"), trouble});
}

std::string plant_lines(const json& status) {
  Table table;
  for (const auto& bus : list_of(status, "buses"))
    table.add({fmt::format("bus {}", text_of(bus, "name")), is_true(bus, "connected") ? "connected" : "NOT CONNECTED",
               fmt::format("{:.0f} polls, {:.0f} failures", number_of(bus, "polls").value_or(0.0),
                           number_of(bus, "failures").value_or(0.0)),
               text_of(bus, "trouble")});
  for (const auto& output : list_of(status, "outputs"))
    table.add({fmt::format("output {}", text_of(output, "name")), output_words(output),
               fmt::format("by bus {}", text_of(output, "bus")),
               joined(text_of(output, "trouble"), proof_words(output))});
  const json& mqtt = object_of(status, "mqtt");
  if (is_true(mqtt, "configured"))
    table.add({"broker", is_true(mqtt, "connected") ? "connected" : "NOT CONNECTED", queue_text(mqtt),
               text_of(mqtt, "trouble")});
  else
    table.add({"broker", "none configured"});
  add_people(table, object_of(status, "notify"));
  const json& page = object_of(status, "http");
  if (is_true(page, "configured"))
    table.add(
        {"page", is_true(page, "listening") ? text_of(page, "address") : "NOT SERVED", "", text_of(page, "trouble")});
  const json& store = object_of(status, "store");
  table.add({"records", is_true(store, "writing") ? "being written" : "NOT BEING WRITTEN", queue_text(store),
             text_of(store, "trouble")});
  const double lost = number_of(status, "polls_dropped").value_or(0.0);
  if (lost > 0.0) table.add({"evaluation", "TOO SLOW", fmt::format("{:.0f} polls dropped since the start", lost)});
  return table.text();
}

} // namespace

std::string status_text(const Console& console, const json& status) {
  const auto now = text_of(status, "now");
  std::string out =
      fmt::format("{}, {}; oxherd {}, started {}\n\n", text_of(status, "site"), local_time_of(status, "now"),
                  text_of(status, "version"), local_time_of(status, "started"));
  std::vector<const json*> rooms;
  for (const auto& room : list_of(status, "rooms"))
    if (room.is_object()) rooms.push_back(&room);
  std::ranges::stable_sort(rooms, std::ranges::greater{}, [](const json* room) { return urgency(*room); });
  for (const json* room : rooms) out += room_lines(console, *room, now);
  if (rooms.empty()) out += "No room is configured: nothing is monitored.\n\n";
  return out + plant_lines(status) + '\n' + wrapped(alarms::caution_short(), 100, 0) + '\n';
}

} // namespace oxherd::daemon::cli
