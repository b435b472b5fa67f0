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
  contact  ///< door-contact: discrete input 0, 1 while the circuit is closed, as it is with the door
};

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
  std::string_view name; ///< "room/sensor" as in the configuration; "outputs" for the output module
  std::string_view room;
  Line line = Line::plant;
  int unit = 0;
  DeviceKind kind = DeviceKind::cell;
  std::optional<CellFacts> cell = std::nullopt;
  bool has_barometer = false; ///< probes only; without one the pressure register holds its "no value"
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
