#include <algorithm>
#include <map>

#include <fmt/core.h>

#include "config/cross_checks.hpp"
#include "config/nearest.hpp"
#include "config/regime_rules.hpp"

namespace oxherd::config {
namespace {

using control::Duty;
using control::Need;
using control::ProcessValue;

/// What must be measured for a value to be known.
std::vector<Measurand> inputs_of(ProcessValue value) {
  switch (value) {
  case ProcessValue::oxygen:
  case ProcessValue::oxygen_partial_pressure: return {Measurand::oxygen};
  case ProcessValue::carbon_dioxide: return {Measurand::carbon_dioxide};
  case ProcessValue::temperature: return {Measurand::temperature};
  case ProcessValue::humidity: return {Measurand::humidity};
  case ProcessValue::dew_point:
  case ProcessValue::vapour_pressure_deficit: return {Measurand::temperature, Measurand::humidity};
  case ProcessValue::over_pressure: return {Measurand::over_pressure};
  }
  return {};
}

/// Whether the room has it, or says where it comes from.
bool knows(const Room& room, Measurand measurand) {
  if (measurand == Measurand::temperature && room.temperature_from) return true;
  if (measurand == Measurand::humidity && room.humidity_from) return true;
  return channels(room, measurand) > 0;
}

/// The sensor whose absence leaves a condition without an answer; empty: none is needed.
std::optional<Measurand> told_by(control::Condition condition) {
  switch (condition) {
  case control::Condition::door_closed: return Measurand::door;
  case control::Condition::nobody_in: return Measurand::occupancy;
  case control::Condition::oxygen_measured:
  case control::Condition::oxygen_falls: return Measurand::oxygen;
  case control::Condition::carbon_dioxide_measured:
  case control::Condition::carbon_dioxide_below_ceiling: return Measurand::carbon_dioxide;
  case control::Condition::over_pressure_measured:
  case control::Condition::over_pressure_within: return Measurand::over_pressure;
  case control::Condition::relief_free: return Measurand::relief_valve;
  case control::Condition::lights_on: return Measurand::lights;
  case control::Condition::air_circulates: return Measurand::air_flow;
  default: return std::nullopt;
  }
}

struct InRoom {
  const Settings& settings;
  const Output& output;
  const Actuator& actuator;
  const Room& room;
};

bool circulates(const InRoom& at) {
  return std::any_of(at.settings.outputs.begin(), at.settings.outputs.end(), [&](const Output& other) {
    const auto* fan = std::get_if<Actuator>(&other.kind);
    return fan != nullptr && fan->room == at.room.name && fan->rules.duty == Duty::circulation;
  });
}

/// Each condition that must hold has something that tells it: else the actuator would never work.
void check_needed(const InRoom& at, Reporter& report) {
  const auto& asked = at.actuator.rules.asked_for;
  for (const control::Condition condition : control::all_conditions()) {
    const bool is_asked = std::find(asked.begin(), asked.end(), condition) != asked.end();
    if (!is_asked && need_of(at.actuator.rules.duty, condition) != Need::always) continue;
    const Keys keys{"output", at.output.name, is_asked ? "needs" : "duty"};
    const auto measurand = told_by(condition);
    const bool told = !measurand || channels(at.room, *measurand) > 0 ||
                      (condition == control::Condition::air_circulates && circulates(at));
    if (!told)
      report.error(keys, fmt::format("{} only works while {}, and {} has no sensor that measures \"{}\"",
                                     words_of(at.actuator.rules.duty), words_of(condition), at.room.name,
                                     name_of(*measurand)));
    if (condition == control::Condition::entry_withheld && is_asked && !at.room.entry_lock)
      report.error(keys, fmt::format("{} has no entry_lock that could be withheld", at.room.name));
    if (condition == control::Condition::sealed && !is_sealable(at.room.regime))
      report.error(keys, fmt::format("{} only works in a room that can be sealed, and {} is \"{}\"",
                                     words_of(at.actuator.rules.duty), at.room.name, name_of(at.room.regime)));
  }
}

void check_purge(const InRoom& at, Reporter& report) {
  if (!at.room.volume_m3)
    report.error(
        {"room", at.room.name, "volume"},
        fmt::format("missing; {} is purged by \"{}\", which stops when oxygen does not fall as the room's free "
                    "volume lets expect, for example volume = \"200 m3\"",
                    at.room.name, at.output.name));
  for (const auto& [measurand, what] :
       {std::pair{Measurand::over_pressure, "no probe watches the pressure that a purge may build up"},
        {Measurand::relief_valve, "no contact tells that the relief valve is free"},
        {Measurand::occupancy, "no contact tells that people are in"}})
    if (channels(at.room, measurand) == 0)
      report.warning({"output", at.output.name, "duty"},
                     fmt::format("{}: a sensor that measures \"{}\" would", what, name_of(measurand)));
}

void check_actuator(const InRoom& at, Reporter& report) {
  if (report.is_broken({"room", at.room.name, "sensor"}) || !report.expects_sensors(at.room)) return;
  check_needed(at, report);
  if (at.actuator.rules.duty == Duty::nitrogen_purge) check_purge(at, report);
}

void check_loop_output(const Settings& settings, const Room& room, const Loop& loop, Reporter& report) {
  const Keys at{"room", room.name, "loop", loop.name, "output"};
  const Actuator* actuator = actuator_named(settings.outputs, loop.output);
  if (loop.output.empty() || report.is_broken({"output", loop.output})) return;
  if (actuator == nullptr) {
    std::vector<std::string> names;
    for (const auto& output : settings.outputs)
      if (const auto* one = std::get_if<Actuator>(&output.kind); one != nullptr && one->room == room.name)
        names.push_back(output.name);
    return report.error(at, names.empty() ? fmt::format("{} has no output of kind \"actuator\"", room.name)
                                          : fmt::format("\"{}\" is no actuator of {}; there is {}", loop.output,
                                                        room.name, listed_nearest_first(loop.output, names)));
  }
  if (actuator->room != room.name)
    report.error(at, fmt::format("\"{}\" belongs to {}, not to {}", loop.output, actuator->room, room.name));
  if (!control::effect_of(actuator->rules.duty, loop.holds))
    report.error(at, fmt::format("{} cannot hold \"{}\"", words_of(actuator->rules.duty), name_of(loop.holds)));
  if (actuator->at.is_coil != (loop.method != LoopMethod::continuous))
    report.error({"room", room.name, "loop", loop.name, "method"},
                 actuator->at.is_coil ? "\"continuous\" belongs to an actuator that is written to a register"
                                      : "a register takes method \"continuous\"");
}

void check_loops(const Settings& settings, const Room& room, std::map<std::string, std::string>& driven,
                 Reporter& report) {
  for (const auto& loop : room.loops) {
    const Keys at{"room", room.name, "loop", loop.name};
    if (report.is_broken(at)) continue;
    check_loop_output(settings, room, loop, report);
    const auto [first, fresh] = driven.try_emplace(loop.output, room.name + "/" + loop.name);
    if (!fresh)
      report.error({"room", room.name, "loop", loop.name, "output"},
                   fmt::format("\"{}\" is driven by loop {} already", loop.output, first->second));
    if (report.is_broken({"room", room.name, "sensor"}) || !report.expects_sensors(room)) continue;
    for (const auto measurand : inputs_of(loop.holds))
      if (!knows(room, measurand))
        report.error({"room", room.name, "loop", loop.name, "holds"},
                     fmt::format("{} has no sensor that measures \"{}\"", room.name, name_of(measurand)));
    if (loop.known_load && channels(room, Measurand::lights) == 0)
      report.error({"room", room.name, "loop", loop.name, "lights_add"},
                   fmt::format("{} has no sensor that measures \"lights\"", room.name));
  }
}

} // namespace

void check_control(const Settings& settings, Reporter& report) {
  std::map<std::string, std::string> driven;
  for (const auto& room : settings.rooms) check_loops(settings, room, driven, report);
  for (const auto& output : settings.outputs) {
    const auto* actuator = std::get_if<Actuator>(&output.kind);
    if (actuator == nullptr || report.is_broken({"output", output.name})) continue;
    if (const Room* room = room_named(settings.rooms, actuator->room))
      check_actuator({settings, output, *actuator, *room}, report);
  }
}

} // namespace oxherd::config
