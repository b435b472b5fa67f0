#include "daemon/cli/status_text.hpp"

#include <algorithm>
#include <vector>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "config/measurands.hpp"
#include "daemon/cli/alarm_lines.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/plant_lines.hpp"
#include "daemon/cli/regime_lines.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

/// From this urgency on a person is needed now: what is below has been seen by somebody, or can wait.
constexpr int waits_for_a_person = 3;

/// How much a room needs a person; the largest is shown first, and 0 means not at all.
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

std::string relay_text(const Console& console, const json& room) {
  const auto found = room.find("relay_energised");
  if (found == room.end() || !found->is_boolean()) return "no alarm relay";
  return found->get<bool>() ? "alarm relay energised" : stressed(console, Stress::alarm, "alarm relay DROPPED (alarm)");
}

bool has_sensor_for(const json& room, std::string_view measurand) {
  for (const auto& sensor : list_of(room, "sensors"))
    for (const auto& item : list_of(sensor, "measures"))
      if (item.is_string() && item.get_ref<const std::string&>() == measurand) return true;
  return false;
}

std::string values_line(const Console& console, const json& room) {
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
  return out + relay_text(console, room) + '\n';
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
  add("over_pressure_pa", [](double x) { return fmt::format("{:+.0f} Pa against outside", x); });
  for (const auto& contact : config::contacts())
    if (const auto is = last.find(contact.key); is != last.end() && is->is_boolean())
      out += fmt::format("{}{}", out.empty() ? "" : ", ", is->get<bool>() ? contact.yes : contact.no);
  return out.empty() ? "-" : out;
}

std::string measures_text(const json& sensor) {
  std::string out;
  for (const auto& item : list_of(sensor, "measures"))
    if (item.is_string()) out += (out.empty() ? "" : ", ") + printable(item.get_ref<const std::string&>());
  return out;
}

std::string status_words(const Console& console, const json& sensor) {
  auto status = text_of(sensor, "status");
  std::ranges::replace(status, '_', ' ');
  const auto quality = text_of(sensor, "quality");
  const auto words = status == "ok" ? quality : fmt::format("{}: {}", quality, status);
  const auto stress = quality == "bad" ? Stress::alarm : words == "good" ? Stress::none : Stress::warning;
  return stressed(console, stress, words);
}

std::string reasons_text(const json& sensor) {
  std::string out;
  for (const auto& reason : list_of(sensor, "reasons")) out += (out.empty() ? "" : "; ") + text_of(reason, "text");
  return out;
}

std::string sensor_lines(const Console& console, const json& room) {
  Table sensors{2};
  for (const auto& sensor : list_of(room, "sensors")) {
    const auto age = number_of(sensor, "age_s");
    sensors.add({text_of(sensor, "sensor"), measures_text(sensor), last_values(sensor),
                 age ? duration_text(*age) + " old" : stressed(console, Stress::alarm, "NO DATA"),
                 status_words(console, sensor), reasons_text(sensor)});
  }
  return sensors.text();
}

std::string room_lines(const Console& console, const json& room, const std::string& now, Detail detail) {
  std::string out = fmt::format("{} ({})\n", text_of(room, "room"), text_of(room, "regime"));
  if (!is_true(room, "monitored")) {
    const auto reason = text_of(room, "reason");
    out += "  " +
           stressed(console, Stress::alarm,
                    fmt::format("NOT MONITORED: treat its air as unknown. {}",
                                reason.empty() ? std::string{"No reason was given."} : "Reason: " + reason)) +
           '\n';
  }
  out += values_line(console, room);
  if (!text_of(room, "door").empty() || !object_of(room, "entry_lock").empty())
    out += fmt::format("  {}; {}\n", door_words(room), entry_lock_words(room));
  if (const auto silent = not_in_force_words(room); !silent.empty()) out += "  " + silent + '\n';
  for (const auto& alarm : list_of(room, "alarms"))
    if (!is_normal(alarm)) out += alarm_lines(console, alarm, now, 2);
  if (detail == Detail::full || urgency(room) > 0) out += sensor_lines(console, room);
  return out + '\n';
}

} // namespace

StatusParts status_parts(const Console& console, const json& status, Detail detail) {
  const auto now = text_of(status, "now");
  std::vector<const json*> rooms;
  for (const auto& room : list_of(status, "rooms"))
    if (room.is_object()) rooms.push_back(&room);
  std::ranges::stable_sort(rooms, std::ranges::greater{}, [](const json* room) { return urgency(*room); });
  std::string body;
  for (const json* room : rooms) body += room_lines(console, *room, now, detail);
  if (rooms.empty()) body += "No room is configured: nothing is monitored.\n\n";
  return {fmt::format("{}, {}; oxherd {}, started {}\n", text_of(status, "site"), local_time_of(status, "now"),
                      text_of(status, "version"), local_time_of(status, "started")),
          body + plant_lines(console, status), wrapped(alarms::caution_short(), 100, 0) + '\n'};
}

std::string status_text(const Console& console, const json& status) {
  const auto parts = status_parts(console, status, Detail::full);
  return parts.head + '\n' + parts.body + '\n' + parts.foot;
}

std::string attention_line(const Console& console, const json& status) {
  std::size_t rooms = 0;
  std::vector<std::pair<int, std::string>> named;
  for (const auto& room : list_of(status, "rooms")) {
    if (!room.is_object()) continue;
    ++rooms;
    if (const int urgent = urgency(room); urgent > 0) named.emplace_back(urgent, text_of(room, "room"));
  }
  if (rooms == 0) return "No room is configured: nothing is monitored.\n";
  if (named.empty()) return fmt::format("{}: all monitored, no alarm stands\n", counted(rooms, "room"));
  std::ranges::stable_sort(named, std::ranges::greater{}, [](const auto& one) { return one.first; });
  std::string names;
  for (const auto& [urgent, name] : named) names += (names.empty() ? "" : ", ") + name;
  const auto stress = named.front().first >= waits_for_a_person ? Stress::alarm : Stress::warning;
  return stressed(console, stress,
                  fmt::format("{} of {} {} a person: {}", named.size(), counted(rooms, "room"),
                              named.size() == 1 ? "needs" : "need", names)) +
         '\n';
}

} // namespace oxherd::daemon::cli
