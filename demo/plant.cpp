#include "demo/plant.hpp"

#include <algorithm>
#include <array>

namespace oxherd::demo {
namespace {

// A room has all its channels on one module.
constexpr std::array channel_table{
    Channel{"plant-1", 0, "growth-chamber-1", Actuator::vents},
    Channel{"plant-1", 1, "growth-chamber-1", Actuator::heater},
    Channel{"plant-1", 2, "growth-chamber-1", Actuator::chiller},
    Channel{"plant-1", 3, "growth-chamber-1", Actuator::humidifier},
    Channel{"plant-1", 4, "growth-chamber-1", Actuator::carbon_dioxide_valve},
    Channel{"plant-1", 5, "bay-3", Actuator::vents},
    Channel{"plant-1", 6, "bay-3", Actuator::carbon_dioxide_valve},
    Channel{"plant-1", 7, "bay-3", Actuator::circulation_fan},
    Channel{"plant-1", 0, "growth-chamber-1", Actuator::heater_valve},
    Channel{"plant-2", 0, "pear-store-2", Actuator::purge_valve},
    Channel{"plant-2", 1, "pear-store-2", Actuator::fresh_air_valve},
    Channel{"plant-2", 2, "pear-store-2", Actuator::scrubber},
    Channel{"plant-2", 3, "pear-store-2", Actuator::chiller},
    Channel{"plant-3", 0, "cryo-annexe", Actuator::extract_fan},
};

void set(PlantState& state, Actuator actuator, bool on) {
  switch (actuator) {
  case Actuator::vents: state.vents_open = !on; break;
  case Actuator::extract_fan: state.extract_fan = !on; break;
  case Actuator::fresh_air_valve: state.fresh_air_open = !on; break;
  case Actuator::purge_valve: state.purge_open = on; break;
  case Actuator::carbon_dioxide_valve: state.carbon_dioxide_open = on; break;
  case Actuator::scrubber: state.scrubber = on; break;
  case Actuator::circulation_fan: state.circulation_fan = on; break;
  case Actuator::heater: state.heater = on; break;
  case Actuator::chiller: state.chiller = on; break;
  case Actuator::humidifier: state.humidifier = on; break;
  case Actuator::heater_valve: break; // no coil
  }
}

} // namespace

std::span<const Channel> channels() { return channel_table; }

std::size_t analogue_outputs(std::string_view module) {
  std::size_t count = 0;
  for (const auto& channel : channel_table)
    if (channel.module == module && is_register(channel.actuator)) count = std::max(count, channel.index + 1);
  return count;
}

PlantState plant_state(std::string_view room, const OutputModule& module) {
  PlantState state;
  for (const auto& channel : channel_table) {
    if (channel.room != room) continue;
    if (is_register(channel.actuator))
      state.heater_valve = std::min(1.0, module.registers().at(channel.index) / double{heater_valve_full});
    else
      set(state, channel.actuator, module.coils().at(channel.index));
  }
  return state;
}

} // namespace oxherd::demo
