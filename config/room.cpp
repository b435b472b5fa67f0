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

constexpr QuantityRule room_volume{Dimension::volume, 0.01, 1e6, "10 l to 1000000 m3"};
constexpr QuantityRule room_over_pressure{Dimension::pressure, 10.0, 1000.0, "10 Pa to 1000 Pa"};
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

bool has_what_trips(const std::string& room, const std::vector<Output>& outputs) {
  return std::any_of(outputs.begin(), outputs.end(), [&](const Output& output) {
    const auto* actuator = std::get_if<Actuator>(&output.kind);
    return actuator != nullptr && actuator->room == room && control::trips(actuator->rules.duty);
  });
}

/// One that stands still after a long outage waits for a person too.
bool has_elapsed_program(const Room& room) {
  return std::any_of(room.loops.begin(), room.loops.end(), [](const Loop& loop) {
    return loop.program && std::holds_alternative<control::ElapsedProgram>(*loop.program);
  });
}

/// An alarm that rooms have by themselves; a table of its name may change its delays.
struct BuiltInAlarm {
  AlarmSettings alarm;
  void (*adjust)(TableReader, AlarmSettings&);
  bool is_there;
  std::string_view about, why_not; ///< of the refusal where the room does not have it
};

void read_room_alarms(TableReader& in, const Surroundings& around, Room& room) {
  const bool votes = alarms::channels_of(room.oxygen_vote) > 1 || alarms::channels_of(room.carbon_dioxide_vote) > 1;
  std::array<BuiltInAlarm, 4> built_in{
      {{output_lost_alarm(), adjust_output_lost, around.answers_for_outputs, "an output is lost",
        "the room answers for none"},
       {control_tripped_alarm(), adjust_control_tripped,
        has_what_trips(room.name, *around.outputs) || has_elapsed_program(room), "an interlock has stopped an actuator",
        "the room has none that an interlock stops for good"},
       {degraded_alarm(), adjust_degraded, votes, "a vote has lost a channel", "the room has no vote of more than one"},
       {not_monitored_alarm(room.regime), adjust_not_monitored, true, {}, {}}}};
  if (auto alarms = in.table("alarm"))
    alarms->each_named("alarm", [&](const std::string& name, TableReader one) {
      auto* const own =
          std::find_if(built_in.begin(), built_in.end(), [&](const auto& other) { return other.alarm.name == name; });
      if (own == built_in.end())
        room.alarms.push_back(read_alarm(name, one, room.regime));
      else if (own->is_there)
        own->adjust(one, own->alarm);
      else
        one.error("", fmt::format("this name belongs to the alarm that {}, and {}; give another alarm another name",
                                  own->about, own->why_not));
    });
  for (auto& one : built_in)
    if (one.is_there) room.alarms.push_back(std::move(one.alarm));
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
  room.volume_m3 = in.quantity("volume", room_volume);
  room.mixing = in.number("mixing", 1.0, 10.0).value_or(room.mixing);
  room.over_pressure_most_Pa =
      in.quantity("over_pressure_at_most", room_over_pressure).value_or(room.over_pressure_most_Pa);
  read_room_sensors(in, around, room);
  if (auto loops = in.table("loop"))
    loops->each_named("loop", [&](const std::string& loop, TableReader one) {
      room.loops.push_back(read_loop(loop, one, around.site, *around.outputs));
    });
  read_room_alarms(in, around, room);
  in.finish();
  return room;
}

} // namespace oxherd::config
