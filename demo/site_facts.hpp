#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <string_view>

#include "compensation/cell.hpp"

namespace oxherd::demo {

/// The line a device hangs on, named as in demo/larkfield.toml.
enum class Line { plant, stores };
[[nodiscard]] std::string_view name_of(Line line);

/// What a device is. The register layouts are those of the profiles that demo/larkfield.toml names.
enum class DeviceKind {
  cell,    ///< millivolts-float32: input registers 0-1 the signal, 2 the status word
  probe,   ///< ambient-int16: input registers 0 temperature, 1 humidity, 2 pressure
  co2,     ///< co2-uint16: input register 0, ppm of the gas as it is, pressure corrected by the probe itself
  outputs, ///< coils 0 to 7, holding registers 0 to 15
  contact, ///< door-contact: discrete input 0, 1 while the circuit is closed, as it is with the door
  // The other contacts are built likewise: a broken wire reads as the state that calls for care.
  occupancy,    ///< occupancy-contact: closed while nobody is in
  lights,       ///< lights-contact: closed while they are on
  air_flow,     ///< air-flow-contact: closed while the fan moves air
  relief_valve, ///< relief-valve-contact: closed while nothing isolates the relief valve
  over_pressure ///< over-pressure-int16: input register 0, pascals against the surroundings
};
/// Whether it is one discrete input.
[[nodiscard]] bool is_contact(DeviceKind kind);

/// The numbers of one oxygen cell that the configuration also holds. A test compares the two.
struct CellFacts {
  compensation::CellModel model = compensation::CellModel::concentration;
  double zero_mV = 0.0;
  double cal_signal_mV = 0.0;
  double cal_temperature_C = 0.0;
  double cal_humidity_percent = 0.0;
  double cal_pressure_kPa = 0.0;
  std::string_view serial;
};

/// One Modbus unit.
struct DeviceFacts {
  std::string_view name; ///< "room/sensor" as in the configuration; "outputs", "plant-1" ... for output modules
  std::string_view room;
  Line line = Line::plant;
  int unit = 0;
  DeviceKind kind = DeviceKind::cell;
  std::optional<CellFacts> cell = std::nullopt;
  bool has_barometer = false; ///< probes only; without one the pressure register holds its "no value"
};

/// Heat of a room whose plant is driven from outside: temperature tends to a sum of gains with one time constant, and
/// fresh air pulls it towards the outdoors beside that. Gains are what the steady temperature moves by.
struct HeatFacts {
  double still_C = 20.0; ///< where it settles in the dark, with nothing running and no fresh air
  double time_constant_s = 900.0;
  double dead_time_s = 0.0; ///< before heater and chiller are felt: the way of the air
  double lights_K = 0.0;
  double heater_K = 0.0;
  double heater_valve_K = 0.0; ///< fully open; in proportion below, and beside the heater
  double chiller_K = 0.0;      ///< taken off
};

/// Water vapour of such a room, likewise; gains in moles of water in a mole of the gas.
struct WaterFacts {
  double still = 0.0;
  double time_constant_s = 900.0;
  double dead_time_s = 0.0;
  double plants = 0.0; ///< in the light
  double humidifier = 0.0;
  double chiller = 0.0; ///< what its coil takes off
};

/// What a plant module can do in a room once it has taken the room over.
struct PlantFacts {
  double vents_changes_per_h = 0.0;   ///< of fresh air through open vents, beyond the room's own
  double fan_off_changes_per_h = 0.0; ///< what is left of the room's own when its extract fan stands
  double fresh_air_m3_per_h = 0.0;    ///< through the fresh-air valve
  double purge_m3_per_h =
      0.0; ///< through the purge valve, from the nitrogen generator; the room's own regulation opens it too
  double scrubber_m3_per_h = 0.0;       ///< while the scrubber runs
  double dosing_m3_per_h = 0.0;         ///< while the carbon dioxide valve is open
  double dosing_dead_time_s = 0.0;      ///< before dosed gas has come through its hoses
  double fan_proof_s = 0.0;             ///< between circulation fan and its air-flow contact
  std::optional<HeatFacts> heat = {};   ///< empty: the room goes on heating and cooling itself
  std::optional<WaterFacts> water = {}; ///< empty: and keeping its humidity
};

/// Ways for the gas out of a room that is closed, each in proportion to the over-pressure.
struct ReliefFacts {
  double leak_m3_per_h_per_Pa = 0.0;
  double relief_m3_per_h_per_Pa = 0.0; ///< gone while the relief valve is isolated
};

/// How a room is built and kept. Flows are volumes at the room's own temperature and pressure.
struct RoomFacts {
  std::string_view name;
  double volume_m3 = 0.0; ///< free volume, what stands in the room taken off
  double air_changes_per_h = 0.0;
  double temperature_C = 20.0; ///< set-point by day
  double night_drop_K = 0.0;   ///< how much cooler the set-point is in the dark
  double humidity_percent = 50.0;
  double oxygen_start = 0.20946; ///< dry fraction in which the simulation starts
  double carbon_dioxide_start = 420e-6;
  double dosing_to_ppm = 0.0; ///< carbon dioxide is dosed up to this by day; 0: no dosing
  double dosing_m3_per_h = 0.0;
  double plants_mol_per_s = 0.0;  ///< carbon dioxide taken up in full light, and oxygen given back
  double fruit_mol_per_s = 0.0;   ///< oxygen used by stored fruit, and carbon dioxide given off
  double scrubber_m3_per_h = 0.0; ///< flow from which the carbon dioxide is taken out
  double oxygen_hold = 0.0;       ///< dry fraction kept by nitrogen purge and fresh-air valve; 0: not controlled
  PlantFacts plant = {};
  std::optional<ReliefFacts> relief = {}; ///< empty: never so tight that an over-pressure can stand
};

[[nodiscard]] std::span<const RoomFacts> room_facts();
[[nodiscard]] std::span<const DeviceFacts> device_facts();

/// The device of that unit on that line; null when there is none.
[[nodiscard]] const DeviceFacts* find_device(Line line, int unit);
[[nodiscard]] const DeviceFacts* find_device(std::string_view name);

/// The cell and its calibration in the words of the compensation, without uncertainties.
[[nodiscard]] compensation::Cell cell_of(const CellFacts& facts);
[[nodiscard]] compensation::Calibration calibration_of(const CellFacts& facts);

/// Dry mole fraction of oxygen outdoors, the default reference of a calibration.
/// @source Machta and Hughes 1970, Science 168, 1582
inline constexpr double outdoor_oxygen = 0.20946;
/// Dry mole fraction of carbon dioxide outdoors (invented for the site, a usual present value).
inline constexpr double outdoor_carbon_dioxide = 420e-6;

} // namespace oxherd::demo
