#include "daemon/collect/fleet.hpp"

#include <cmath>
#include <map>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/collect/quantities.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::collect {
namespace {

using Ordered = nlohmann::ordered_json;

/// A heartbeat comes every 10 s and a room is told at least as often: two may be missed.
constexpr std::chrono::seconds silence_most{30};

std::string utc_text(SampleTime at) { return rfc3339(std::chrono::floor<std::chrono::milliseconds>(at)); }

long long seconds_between(SampleTime from, SampleTime to) {
  return std::chrono::floor<std::chrono::seconds>(to - from).count();
}

std::string_view quality_word(std::optional<int> quality) {
  if (quality == 1) return "good";
  return quality == 2 ? "uncertain" : "bad";
}

/// NE 107, as far as the quality tells it.
std::string_view status_word(std::optional<int> quality) {
  if (quality == 1) return "ok";
  return quality == 2 ? "out_of_specification" : "failure";
}

struct SensorNow {
  std::optional<SampleTime> at;
  std::optional<int> quality;
  Ordered last = Ordered::object(), measures = Ordered::array();
};

/// Readings are told whole: what is older than the newest sample of a sensor belongs to an earlier one.
std::map<std::string, SensorNow> sensors_of(const std::vector<LastSample>& samples) {
  std::map<std::string, SensorNow> sensors;
  for (const auto& sample : samples) {
    auto& sensor = sensors[sample.sensor];
    if (!sensor.at || sample.at > *sensor.at) sensor.at = sample.at;
  }
  for (const auto& sample : samples) {
    auto& sensor = sensors[sample.sensor];
    if (const auto* measurand = measurand_of(sample.quantity)) sensor.measures.push_back(*measurand);
    if (sample.at != sensor.at) continue;
    sensor.quality = sample.quality;
    const auto* quantity = quantity_of(sample.quantity, sample.unit);
    if (quantity != nullptr && sample.value)
      sensor.last[std::string{quantity->name}] = in_persons_unit(*quantity, *sample.value);
  }
  return sensors;
}

Ordered sensors_json(const FleetRoom& room, const std::string& old, SampleTime now) {
  Ordered sensors = Ordered::array();
  for (auto& [name, sensor] : sensors_of(room.samples)) {
    Ordered reasons = Ordered::array();
    if (!old.empty()) reasons.push_back({{"status", "failure"}, {"text", old}});
    Ordered last = nullptr;
    if (old.empty() && sensor.at) {
      last = Ordered{{"at", utc_text(*sensor.at)}};
      for (const auto& one : quantities()) last[std::string{one.name}] = nullptr;
      last.update(sensor.last);
    }
    sensors.push_back(
        {{"sensor", name},
         {"measures", sensor.measures},
         {"status", old.empty() ? status_word(sensor.quality) : "failure"},
         {"quality", old.empty() ? quality_word(sensor.quality) : "bad"},
         {"reasons", reasons},
         {"age_s", sensor.at ? Ordered(std::chrono::duration<double>(now - *sensor.at).count()) : Ordered(nullptr)},
         {"last", last}});
  }
  return sensors;
}

/// In place of the room's own alarm of that name: it says what the site's daemon knew.
Ordered not_current_alarm(const std::string& name, const std::string& why, SampleTime since) {
  return {{"room", name},
          {"alarm", "not-monitored"},
          {"quantity", "monitoring"},
          {"state", "unacknowledged"},
          {"priority", "high"},
          {"safety", true},
          {"sounding", false},
          {"present", true},
          {"first_out", false},
          {"chattering", false},
          {"test", false},
          {"in_force", true},
          {"since", utc_text(since)},
          {"value", nullptr},
          {"expanded", nullptr},
          {"coverage_factor", 2},
          {"limit", nullptr},
          {"unit", ""},
          {"suppression", nullptr},
          {"shelve_at_most_s", 0},
          {"out_of_service_at_most_s", 0},
          {"text", fmt::format("NOT MONITORED from here, {}: {}. What the air of the room is, nobody here can say.",
                               name, why)},
          {"caution", alarms::caution_short()}};
}

Ordered alarms_json(const FleetRoom& room, const std::string& name, const std::string& why) {
  Ordered alarms = Ordered::array();
  if (!why.empty()) alarms.push_back(not_current_alarm(name, why, room.site.heard_at.value_or(room.heard_at)));
  for (const auto& text : room.alarms_json) {
    auto alarm = Ordered::parse(text, nullptr, false);
    if (!alarm.is_object() || (!why.empty() && alarm.value("alarm", "") == "not-monitored")) continue;
    alarm["room"] = name;
    alarms.push_back(std::move(alarm));
  }
  return alarms;
}

} // namespace

std::string name_of_room(const FleetRoom& room) { return room.site.name + '/' + room.room; }

std::string why_not_current(const SiteStanding& site, SampleTime room_heard_at, SampleTime now) {
  if (site.status != "online")
    return fmt::format("the daemon of {} is {}{}", site.name, site.status.empty() ? "not known" : "offline",
                       site.status_at ? fmt::format(" since {}", utc_text(*site.status_at)) : "");
  if (!site.heard_at) return fmt::format("the daemon of {} was never heard", site.name);
  if (now - *site.heard_at > silence_most)
    return fmt::format("the daemon of {} has been silent for {} s", site.name, seconds_between(*site.heard_at, now));
  if (!site.beat_at || std::chrono::abs(*site.heard_at - *site.beat_at) > silence_most)
    return fmt::format("the last word of {} is from {}: it came late, or one of the clocks is wrong", site.name,
                       site.beat_at ? utc_text(*site.beat_at) : "no known time");
  if (now - room_heard_at > silence_most)
    return fmt::format("the daemon of {} has not told of this room for {} s", site.name,
                       seconds_between(room_heard_at, now));
  return {};
}

std::string fleet_room_json(const FleetRoom& room, SampleTime now) {
  const auto name = name_of_room(room);
  const auto why = why_not_current(room.site, room.heard_at, now);
  auto told = Ordered::parse(room.told_json, nullptr, false);
  if (!told.is_object()) told = Ordered::object();
  told["room"] = name;
  if (!why.empty()) {
    told["monitored"] = false;
    told["reason"] = why;
    for (const char* key : {"dry_fraction", "u_expanded", "co2_fraction", "relay_energised"}) told[key] = nullptr;
    if (told.contains("door") && told["door"].is_string()) told["door"] = "unknown";
    if (told.contains("entry_lock") && told["entry_lock"].is_object())
      told["entry_lock"] = {{"withheld", true}, {"reasons", {why}}, {"fresh_for_s", nullptr}, {"hold_s", 0}};
  }
  told["sensors"] = sensors_json(room, why, now);
  told["control"] = Ordered::array();
  told["alarms"] = alarms_json(room, name, why);
  told["caution"] = alarms::caution_short();
  return told.dump(-1, ' ', false, Ordered::error_handler_t::replace);
}

} // namespace oxherd::daemon::collect
