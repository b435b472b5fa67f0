#include "tests/simulation/interlock_watch.hpp"

#include <cmath>

#include <fmt/core.h>

namespace oxherd::simulation {
namespace {

using control::Duty;

// Beyond the limits that larkfield.toml and control.toml set, a probe shows within three of its time constants. A cell
// shows 90 % of a step in 15 s, the alarm waits 3 s; carbon dioxide lags 20 s.
constexpr double oxygen_shows_s = 23.0, carbon_dioxide_shows_s = 60.0, pressure_shows_s = 2.0;
constexpr double low_oxygen = 0.195, ceiling = 1500e-6, over_pressure_most_Pa = 250.0;

} // namespace

std::vector<InterlockWatch::Needed> InterlockWatch::needed_by(Duty duty, const Seen& seen) {
  const auto& room = seen.room;
  const bool empty = room.controls.people <= 0.0;
  const bool relieved = !room.controls.relief_isolated && std::abs(room.over_pressure_Pa()) <= over_pressure_most_Pa;
  if (duty == Duty::nitrogen_purge)
    return {{"a person has sealed it, and its door has stayed closed", seen.sealed_by_person},
            {"its door is closed", !room.controls.door_open},
            {"nobody is in", empty},
            {"its pressure is relieved", relieved, pressure_shows_s}};
  if (duty == Duty::carbon_dioxide_dosing)
    return {{"nobody is in", empty},
            {"it is lit", seen.lit},
            {"its vents are shut", room.plant() && !room.plant()->vents_open},
            {"its fan moves the air", room.facts().plant.fan_proof_s == 0.0 || room.air_circulates()},
            {"carbon dioxide is below its ceiling", room.gas().carbon_dioxide() < ceiling, carbon_dioxide_shows_s},
            {"oxygen is above its limit", room.gas().oxygen() > low_oxygen, oxygen_shows_s}};
  return {};
}

std::vector<std::string> InterlockWatch::look(const Seen& seen) {
  std::vector<std::string> wrong;
  for (const auto& actuator : seen.actuators) {
    if (!control::facts_of(actuator.duty).gas) continue;
    const bool gas = actuator.driven > 0.0;
    if (gas && !actuator.state->blocks.empty())
      wrong.push_back(fmt::format("at {:.0f} s {} is on although it says itself: {}", seen.at_s, actuator.name,
                                  control::sentence_of(actuator.state->blocks)));
    for (const auto& needed : needed_by(actuator.duty, seen)) {
      const auto key = actuator.name + ": " + needed.what;
      if (!gas || needed.holds) {
        lacking_since_s_.erase(key);
        continue;
      }
      const double since_s = lacking_since_s_.try_emplace(key, seen.at_s).first->second;
      if (seen.at_s - since_s > cycle_s_ + needed.known_after_s)
        wrong.push_back(fmt::format("at {:.0f} s {} has been on for {:.0f} s although it is not true that {}",
                                    seen.at_s, actuator.name, seen.at_s - since_s, needed.what));
    }
  }
  return wrong;
}

} // namespace oxherd::simulation
