#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/alarm_defaults.hpp"
#include "config/regime_rules.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;

constexpr QuantityRule widest_oxygen{Dimension::ratio, 0.001, 0.02, "0.1 % to 2 %"};

std::optional<alarms::Scheme> read_vote(TableReader& in, std::string_view key) {
  using alarms::Scheme;
  constexpr std::array all{Scheme::one_of_one, Scheme::one_of_two, Scheme::two_of_two, Scheme::two_of_three};
  std::vector<std::string> words;
  for (const auto scheme : all) words.emplace_back(alarms::name_of(scheme));
  const auto index = in.word(key, words);
  return index ? std::optional{all.at(*index)} : std::nullopt;
}

/// MQTT topics of a room: these levels stand beside its sensors.
bool is_taken_level(std::string_view sensor) { return sensor == "alarms" || sensor == "state"; }

void read_room_sensors(TableReader& in, const Surroundings& around, Room& room) {
  auto sensors = in.table("sensor");
  if (!sensors) return;
  Surroundings here = around;
  here.regime = room.regime;
  sensors->each_named("sensor", [&](const std::string& name, TableReader one) {
    if (is_taken_level(name))
      one.error("", fmt::format("\"{}\" is a topic of the room itself; name the sensor otherwise", name));
    room.sensors.push_back(read_sensor(name, one, here));
  });
}

void read_room_alarms(TableReader& in, bool answers_for_outputs, Room& room) {
  auto always = not_monitored_alarm(room.regime);
  auto degraded = degraded_alarm();
  auto output_lost = output_lost_alarm();
  const bool votes = alarms::channels_of(room.oxygen_vote) > 1 || alarms::channels_of(room.carbon_dioxide_vote) > 1;
  if (auto alarms = in.table("alarm"))
    alarms->each_named("alarm", [&](const std::string& name, TableReader one) {
      if (name == not_monitored_name)
        adjust_not_monitored(one, always);
      else if (name == degraded_name && votes)
        adjust_degraded(one, degraded);
      else if (name == degraded_name)
        one.error("", "this name belongs to the alarm that a vote has lost a channel, and the room has no vote of more "
                      "than one; give another alarm another name");
      else if (name == output_lost_name && answers_for_outputs)
        adjust_output_lost(one, output_lost);
      else if (name == output_lost_name)
        one.error("", "this name belongs to the alarm that an output is lost, and the room answers for none; give "
                      "another alarm another name");
      else
        room.alarms.push_back(read_alarm(name, one, room.regime));
    });
  if (answers_for_outputs) room.alarms.push_back(std::move(output_lost));
  if (votes) room.alarms.push_back(std::move(degraded));
  room.alarms.push_back(std::move(always));
}

} // namespace

const Room* room_named(const std::vector<Room>& rooms, std::string_view name) {
  const auto found = std::find_if(rooms.begin(), rooms.end(), [&](const Room& room) { return room.name == name; });
  return found == rooms.end() ? nullptr : &*found;
}

Room read_room(const std::string& name, TableReader in, const Surroundings& around) {
  Room room;
  room.name = name;
  if (name == "status") in.error("", "\"status\" is a topic of the site itself; name the room otherwise");
  room.regime = read_regime(in).value_or(room.regime); // the strictest when the file is silent
  room.oxygen_vote = read_vote(in, "oxygen_vote").value_or(room.oxygen_vote);
  room.carbon_dioxide_vote = read_vote(in, "co2_vote").value_or(room.carbon_dioxide_vote);
  room.temperature_from = in.text("temperature_from");
  room.humidity_from = in.text("humidity_from");
  room.pressure_from = in.text("pressure_from");
  if (const auto t = in.quantity("assumed_temperature", gas_temperature)) room.assumed_temperature.value = kelvins(*t);
  if (const auto u = in.quantity("u_assumed_temperature", temperature_uncertainty)) room.assumed_temperature.u_si = *u;
  // GUM 6.3: k is between 2 and 3 in general; smaller would judge limits more mildly than the guard band promises.
  room.coverage_factor = in.number("coverage_factor", 2.0, 4.0).value_or(room.coverage_factor);
  room.expanded_oxygen_max = in.quantity("expanded_oxygen_max", widest_oxygen).value_or(room.expanded_oxygen_max);
  room.entry_lock = read_entry_lock(in);
  read_room_sensors(in, around, room);
  read_room_alarms(in, around.answers_for_outputs, room);
  in.finish();
  return room;
}

} // namespace oxherd::config
