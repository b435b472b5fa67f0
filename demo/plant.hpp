#pragma once

#include <cstddef>
#include <span>
#include <string_view>

#include "demo/output_module.hpp"
#include "demo/room.hpp"

namespace oxherd::demo {

/// What a plant module moves, and what a coil that is on does to it. What airs a room is held shut by a coil, so that
/// a module that nobody writes to airs it; everything else is held on.
enum class Actuator {
  vents,           ///< on: shut
  extract_fan,     ///< on: standing
  fresh_air_valve, ///< on: shut
  purge_valve,
  carbon_dioxide_valve,
  scrubber,
  circulation_fan,
  heater,
  heater_valve, ///< a holding register, 0 shut to `heater_valve_full`
  chiller,
  humidifier
};

/// The register's value for a fully open heater valve; more is taken as that.
inline constexpr int heater_valve_full = 10000;

/// One coil or holding register of a plant module.
struct Channel {
  std::string_view module; ///< name of the device
  std::size_t index = 0;
  std::string_view room;
  Actuator actuator = Actuator::vents;
};
[[nodiscard]] constexpr bool is_register(Actuator actuator) { return actuator == Actuator::heater_valve; }
[[nodiscard]] std::span<const Channel> channels();

/// How many of a module's holding registers, from 0 on, drive something.
[[nodiscard]] std::size_t analogue_outputs(std::string_view module);

/// What the module with this state has the plant of the room do.
[[nodiscard]] PlantState plant_state(std::string_view room, const OutputModule& module);

} // namespace oxherd::demo
