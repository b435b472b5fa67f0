#include "tests/daemon/control/rig.hpp"

#include <stdexcept>

#include <gtest/gtest.h>

#include "config/load.hpp"

namespace oxherd::daemon::rig_test {

const std::string_view pear_store = R"(
[site]
name = "larkfield"
elevation = "212 m"
[bus.stores]
kind = "modbus-tcp"
address = "127.0.0.1:1503"
[room.pear-store-2]
regime = "sealed-low-oxygen"
volume = "200 m3"
[room.pear-store-2.entry_lock]
[room.pear-store-2.sensor.cell]
measures = "oxygen"
bus = "stores"
unit = 11
profile = "oxygen-percent-uint16"
reports = "dry"
[room.pear-store-2.sensor.gas]
measures = "carbon-dioxide"
bus = "stores"
unit = 12
profile = "co2-uint16"
[room.pear-store-2.sensor.air]
measures = ["temperature", "humidity"]
bus = "stores"
unit = 13
profile = "ambient-int16"
[room.pear-store-2.sensor.door]
measures = "door"
bus = "stores"
unit = 14
profile = "door-contact"
[room.pear-store-2.sensor.people]
measures = "occupancy"
bus = "stores"
unit = 15
profile = "occupancy-contact"
[room.pear-store-2.sensor.draught]
measures = "over-pressure"
bus = "stores"
unit = 16
profile = "over-pressure-int16"
[room.pear-store-2.sensor.relief]
measures = "relief-valve"
bus = "stores"
unit = 17
profile = "relief-valve-contact"
[room.pear-store-2.alarm.low-oxygen]
quantity = "oxygen"
below = "19.5 %"
[room.pear-store-2.alarm.very-low-oxygen]
quantity = "oxygen"
below = "18 %"
[room.pear-store-2.alarm.high-carbon-dioxide]
quantity = "carbon-dioxide"
above = "5000 ppm"
[room.pear-store-2.alarm.door]
quantity = "door"
[room.pear-store-2.loop.oxygen]
holds = "oxygen"
output = "nitrogen"
set_point = "2 %"
[room.pear-store-2.loop.air]
holds = "oxygen"
output = "fresh-air"
set_point = "1.5 %"
[room.pear-store-2.loop.scrub]
holds = "carbon-dioxide"
output = "scrubber"
set_point = "2 %"
switch_on_beyond = "0.2 %"
[output.nitrogen]
kind = "actuator"
room = "pear-store-2"
duty = "nitrogen-purge"
bus = "stores"
unit = 31
coil = 0
flow = "40 m3/h"
max_on = "18 h"
[output.fresh-air]
kind = "actuator"
room = "pear-store-2"
duty = "fresh-air"
bus = "stores"
unit = 31
coil = 1
[output.scrubber]
kind = "actuator"
room = "pear-store-2"
duty = "scrubbing"
bus = "stores"
unit = 31
coil = 2
)";

const std::string_view bay = R"(
[site]
name = "larkfield"
elevation = "212 m"
[bus.plant]
kind = "modbus-tcp"
address = "127.0.0.1:1502"
[room.bay-3]
regime = "enriched"
[room.bay-3.sensor.cell]
measures = "oxygen"
bus = "plant"
unit = 11
profile = "oxygen-percent-uint16"
reports = "dry"
[room.bay-3.sensor.gas]
measures = "carbon-dioxide"
bus = "plant"
unit = 12
profile = "co2-uint16"
[room.bay-3.sensor.air]
measures = ["temperature", "humidity"]
bus = "plant"
unit = 13
profile = "ambient-int16"
[room.bay-3.sensor.door]
measures = "door"
bus = "plant"
unit = 14
profile = "door-contact"
[room.bay-3.sensor.people]
measures = "occupancy"
bus = "plant"
unit = 15
profile = "occupancy-contact"
[room.bay-3.sensor.lights]
measures = "lights"
bus = "plant"
unit = 16
profile = "lights-contact"
[room.bay-3.alarm.low-oxygen]
quantity = "oxygen"
below = "19.5 %"
[room.bay-3.alarm.high-carbon-dioxide]
quantity = "carbon-dioxide"
above = "5000 ppm"
[room.bay-3.loop.enrichment]
holds = "carbon-dioxide"
output = "dosing"
set_point = "900 ppm"
[room.bay-3.loop.cooling]
holds = "temperature"
output = "vents"
set_point = "26 °C"
[output.dosing]
kind = "actuator"
room = "bay-3"
duty = "carbon-dioxide-dosing"
bus = "plant"
unit = 31
coil = 0
[output.vents]
kind = "actuator"
room = "bay-3"
duty = "ventilation"
bus = "plant"
unit = 31
coil = 1
[output.fan]
kind = "actuator"
room = "bay-3"
duty = "circulation"
bus = "plant"
unit = 31
coil = 2
)";

const std::string_view chamber = R"(
[site]
name = "larkfield"
elevation = "212 m"
time_zone = "UTC"
[bus.plant]
kind = "modbus-tcp"
address = "127.0.0.1:1502"
[room.growth-chamber-1]
regime = "occupied"
[room.growth-chamber-1.sensor.cell]
measures = "oxygen"
bus = "plant"
unit = 11
profile = "oxygen-percent-uint16"
reports = "dry"
[room.growth-chamber-1.sensor.air]
measures = ["temperature", "humidity"]
bus = "plant"
unit = 13
profile = "ambient-int16"
[room.growth-chamber-1.alarm.low-oxygen]
quantity = "oxygen"
below = "19.5 %"
[room.growth-chamber-1.loop.heat]
holds = "temperature"
output = "heater"
[room.growth-chamber-1.loop.heat.program]
steps = [{ at = "06:00", to = "24 °C", per_hour = "3 K" }, { at = "22:00", to = "18 °C", per_hour = "3 K" }]
[room.growth-chamber-1.loop.cold]
holds = "temperature"
output = "chiller"
set_point = "26 °C"
[room.growth-chamber-1.loop.moisture]
holds = "humidity"
output = "humidifier"
set_point = "65 %"
[output.heater]
kind = "actuator"
room = "growth-chamber-1"
duty = "heating"
bus = "plant"
unit = 31
register = 0
[output.chiller]
kind = "actuator"
room = "growth-chamber-1"
duty = "cooling"
bus = "plant"
unit = 31
coil = 1
[output.humidifier]
kind = "actuator"
room = "growth-chamber-1"
duty = "humidifying"
bus = "plant"
unit = 31
coil = 2
)";

config::Settings settings_of(std::string_view text) {
  auto loaded = config::parse(text, "rig.toml", {std::filesystem::path{OXHERD_SOURCE_DIR} / "config" / "profiles"},
                              config::Purpose::run);
  if (loaded) return std::move(loaded->settings);
  std::string problems;
  for (const auto& problem : loaded.error()) problems += config::to_string(problem) + '\n';
  throw std::runtime_error{problems};
}

Rig::Rig(std::string_view text) : settings_{settings_of(text)} {
  values = {{"cell/oxygen", 0.02},          {"gas/carbon-dioxide", 0.01}, {"air/temperature", 274.15},
            {"air/humidity", 0.9},          {"door/door", 0.0},           {"people/occupancy", 0.0},
            {"draught/over-pressure", 5.0}, {"relief/relief-valve", 0.0}, {"lights/lights", 1.0}};
  site.emplace(settings_, Calibrations{}, now, wall);
}

Poll Rig::poll_of(std::size_t s) const {
  const auto& sensor = site->settings().rooms[0].sensors[s];
  Poll poll;
  poll.sensor = {0, s};
  poll.at = now;
  poll.wall = wall;
  poll.status.resize(sensor.status.size(), false);
  for (const auto& point : sensor.points) {
    const double si = values.at(sensor.name + "/" + std::string{config::name_of(point.measurand)});
    poll.values.push_back({si, si, drivers::ValueFault::none});
  }
  if (!silent.contains(sensor.name)) return poll;
  for (auto& value : poll.values) value.fault = drivers::ValueFault::not_read;
  poll.error = drivers::BusError{drivers::BusFault::exception, 4, "device failure"};
  return poll;
}

void Rig::keep(Outcome outcome) {
  lines.insert(lines.end(), outcome.room_events.begin(), outcome.room_events.end());
  news.insert(news.end(), outcome.alarms.begin(), outcome.alarms.end());
}

void Rig::poll(const std::string& name) {
  const auto& sensors = site->settings().rooms[0].sensors;
  for (std::size_t s = 0; s < sensors.size(); ++s)
    if (sensors[s].name == name) keep(site->take(poll_of(s)));
}

void Rig::second() {
  for (std::size_t s = 0; s < site->settings().rooms[0].sensors.size(); ++s) keep(site->take(poll_of(s)));
  OutputsFound found{true, false, {}, {}};
  for (const auto& output : site->settings().outputs) {
    const bool holds = !unconfirmed.contains(output.name);
    found.actuators.emplace_back(output.name, holds);
    if (holds) continue;
    found.confirmed = false;
    found.trouble = output.name + " does not hold what it was told";
  }
  site->set_outputs_found(0, std::move(found));
  now += std::chrono::seconds{1};
  wall += std::chrono::seconds{1};
  keep(site->tick(now, wall));
}

ActuatorStatus Rig::actuator(const std::string& output) const {
  for (auto& one : site->status(0, now, wall).actuators)
    if (one.name == output) return one;
  throw std::runtime_error{"no actuator " + output};
}

double Rig::driven(const std::string& output) const { return actuator(output).output; }

bool Rig::blocked_by(const std::string& output, std::string_view condition) const {
  const auto blocks = actuator(output).blocked_by;
  return std::any_of(blocks.begin(), blocks.end(), [&](const auto& block) { return block.first == condition; });
}

std::string Rig::order(const std::string& output, control::ActuatorAct act, double at, std::chrono::minutes time) {
  auto acted = site->order(output, {act, "R. Okafor", "after loading", at, time}, now, wall);
  if (!acted) throw std::runtime_error{"no actuator " + output};
  keep(std::move(acted->outcome));
  return acted->refusal.value_or("");
}

std::string Rig::set_regime(alarms::Regime regime) {
  auto acted =
      site->set_regime(site->settings().rooms[0].name, {regime, "R. Okafor", "pull-down begins", true}, now, wall);
  keep(std::move(acted->outcome));
  return acted->refusal.value_or("");
}

alarms::State Rig::state(const std::string& alarm) const {
  for (const auto& one : site->status(0, now, wall).alarms)
    if (one.alarm == alarm) return one.state;
  throw std::runtime_error{"no alarm " + alarm};
}

std::string Rig::events_of(const std::string& journal_name) const {
  std::string events;
  for (const auto& line : lines)
    if (line.alarm == journal_name) events += (events.empty() ? "" : " ") + line.event;
  return events;
}

void Rig::restart() {
  std::vector<AlarmSnapshot> alarms;
  for (const auto& one : news) alarms.push_back(one.snapshot); // the last of each counts
  const auto regime = site->regime(0);
  site.emplace(settings_, Calibrations{}, now, wall);
  site->restore_regimes({regime});
  static_cast<void>(site->restore(alarms, 1000, now, wall));
  keep(site->announce_restart(now, wall));
  keep(site->restore_control(remembered_control(lines, settings_), now, wall));
}

void Rig::reload(std::string_view text) {
  settings_ = settings_of(text);
  Site next{settings_, Calibrations{}, now, wall};
  next.continue_from(*site, now, wall);
  site = std::move(next);
  keep(site->announce_reload(now, wall));
}

} // namespace oxherd::daemon::rig_test
