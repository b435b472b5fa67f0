#include "demo/site_facts.hpp"

#include <algorithm>
#include <array>

namespace oxherd::demo {
namespace {

using compensation::CellModel;

constexpr std::array room_table{
    RoomFacts{.name = "cryo-annexe",
              .volume_m3 = 60,
              .air_changes_per_h = 3,
              .temperature_C = 21,
              .humidity_percent = 45,
              .plant = {.fan_off_changes_per_h = 0.2}},
    RoomFacts{.name = "growth-chamber-1",
              .volume_m3 = 30,
              .air_changes_per_h = 1.5,
              .temperature_C = 23,
              .night_drop_K = 4,
              .humidity_percent = 65,
              .dosing_to_ppm = 800,
              .dosing_m3_per_h = 0.06,
              .plants_mol_per_s = 1.2e-4,
              .plant = {.vents_changes_per_h = 20,
                        .dosing_m3_per_h = 0.6, // a pulse of 5 s is 28 ppm
                        .dosing_dead_time_s = 10,
                        .heat = HeatFacts{.still_C = 16,
                                          .time_constant_s = 900,
                                          .dead_time_s = 20,
                                          .lights_K = 5,
                                          .heater_K = 12,
                                          .heater_valve_K = 12,
                                          .chiller_K = 14},
                        .water = WaterFacts{.still = 0.010,
                                            .time_constant_s = 900,
                                            .dead_time_s = 20,
                                            .plants = 0.004,
                                            .humidifier = 0.012,
                                            .chiller = 0.003}}},
    RoomFacts{.name = "pear-store-2",
              .volume_m3 = 130,
              .air_changes_per_h = 0.0012,
              .temperature_C = 1,
              .humidity_percent = 92,
              .oxygen_start = 0.0200,
              .carbon_dioxide_start = 0.007,
              .fruit_mol_per_s = 4.6e-4,
              .scrubber_m3_per_h = 5.7,
              .oxygen_hold = 0.0200,
              .plant = {.fresh_air_m3_per_h = 20,
                        .purge_m3_per_h = 40,
                        .scrubber_m3_per_h = 12,
                        .heat = HeatFacts{.still_C = 12, .time_constant_s = 7200, .dead_time_s = 60, .chiller_K = 20}},
              // The leak alone: a half-life of 20 min, usual for a store at 2 % (common practice). With the relief path
              // free 12 s, and the purge raises 99 Pa.
              .relief = ReliefFacts{.leak_m3_per_h_per_Pa = 0.0027, .relief_m3_per_h_per_Pa = 0.4}},
    RoomFacts{.name = "bay-3",
              .volume_m3 = 900,
              .air_changes_per_h = 0.6,
              .temperature_C = 22,
              .night_drop_K = 5,
              .humidity_percent = 72,
              .carbon_dioxide_start = 900e-6,
              .dosing_to_ppm = 1000,
              .dosing_m3_per_h = 1.5,
              .plants_mol_per_s = 3e-3,
              .plant = {.vents_changes_per_h = 20,
                        .dosing_m3_per_h = 12, // a pulse of 5 s is 19 ppm
                        .dosing_dead_time_s = 30,
                        .fan_proof_s = 5}},
};

constexpr CellFacts annexe_cell(double zero_mV, double signal_mV, std::string_view serial) {
  return {CellModel::concentration, zero_mV, signal_mV, 21, 45, 99.8, serial};
}

constexpr std::array device_table{
    DeviceFacts{"cryo-annexe/cell-a", "cryo-annexe", Line::plant, 11, DeviceKind::cell,
                annexe_cell(0.4, 12.6, "LK-0007")},
    DeviceFacts{"cryo-annexe/cell-b", "cryo-annexe", Line::plant, 12, DeviceKind::cell,
                annexe_cell(0.3, 11.9, "LK-0008")},
    DeviceFacts{"cryo-annexe/cell-c", "cryo-annexe", Line::plant, 13, DeviceKind::cell,
                annexe_cell(0.5, 13.1, "LK-0009")},
    DeviceFacts{"cryo-annexe/air", "cryo-annexe", Line::plant, 21, DeviceKind::probe, std::nullopt, true},
    DeviceFacts{"growth-chamber-1/cell", "growth-chamber-1", Line::plant, 41, DeviceKind::cell,
                CellFacts{CellModel::partial_pressure, 0.2, 10.2, 23, 50, 99.1, "LK-0021"}},
    DeviceFacts{"growth-chamber-1/air", "growth-chamber-1", Line::plant, 42, DeviceKind::probe},
    DeviceFacts{"growth-chamber-1/co2", "growth-chamber-1", Line::plant, 43, DeviceKind::co2},
    DeviceFacts{"pear-store-2/cell", "pear-store-2", Line::stores, 1, DeviceKind::cell,
                CellFacts{CellModel::concentration, 0.05, 12.2, 18, 55, 99.5, "LK-0034"}},
    DeviceFacts{"pear-store-2/air", "pear-store-2", Line::stores, 2, DeviceKind::probe},
    DeviceFacts{"bay-3/co2", "bay-3", Line::stores, 3, DeviceKind::co2},
    DeviceFacts{"bay-3/air", "bay-3", Line::stores, 4, DeviceKind::probe},
    DeviceFacts{"outputs", "", Line::plant, 31, DeviceKind::outputs},
    DeviceFacts{"pear-store-2/door", "pear-store-2", Line::stores, 5, DeviceKind::contact},
    // New devices belong at the end: the place in this table seeds a device's noise.
    DeviceFacts{"plant-1", "", Line::plant, 32, DeviceKind::outputs},
    DeviceFacts{"plant-2", "", Line::stores, 6, DeviceKind::outputs},
    DeviceFacts{"plant-3", "", Line::plant, 33, DeviceKind::outputs},
    DeviceFacts{"growth-chamber-1/occupancy", "growth-chamber-1", Line::plant, 44, DeviceKind::occupancy},
    DeviceFacts{"growth-chamber-1/lights", "growth-chamber-1", Line::plant, 45, DeviceKind::lights},
    DeviceFacts{"pear-store-2/occupancy", "pear-store-2", Line::stores, 7, DeviceKind::occupancy},
    DeviceFacts{"pear-store-2/relief-valve", "pear-store-2", Line::stores, 8, DeviceKind::relief_valve},
    DeviceFacts{"pear-store-2/over-pressure", "pear-store-2", Line::stores, 9, DeviceKind::over_pressure},
    DeviceFacts{"bay-3/occupancy", "bay-3", Line::stores, 17, DeviceKind::occupancy},
    DeviceFacts{"bay-3/lights", "bay-3", Line::stores, 18, DeviceKind::lights},
    DeviceFacts{"bay-3/air-flow", "bay-3", Line::stores, 19, DeviceKind::air_flow},
    DeviceFacts{"bay-3/cell", "bay-3", Line::stores, 20, DeviceKind::cell,
                CellFacts{CellModel::concentration, 0.3, 11.4, 22, 60, 99.2, "LK-0041"}},
    DeviceFacts{"pear-store-2/co2", "pear-store-2", Line::stores, 10, DeviceKind::co2},
};

} // namespace

std::string_view name_of(Line line) {
  switch (line) {
  case Line::plant: return "plant";
  case Line::stores: return "stores";
  }
  return "?";
}

bool is_contact(DeviceKind kind) {
  switch (kind) {
  case DeviceKind::contact:
  case DeviceKind::occupancy:
  case DeviceKind::lights:
  case DeviceKind::air_flow:
  case DeviceKind::relief_valve: return true;
  case DeviceKind::cell:
  case DeviceKind::probe:
  case DeviceKind::co2:
  case DeviceKind::outputs:
  case DeviceKind::over_pressure: break;
  }
  return false;
}

std::span<const RoomFacts> room_facts() { return room_table; }
std::span<const DeviceFacts> device_facts() { return device_table; }

const DeviceFacts* find_device(Line line, int unit) {
  const auto found = std::ranges::find_if(
      device_table, [&](const DeviceFacts& device) { return device.line == line && device.unit == unit; });
  return found == device_table.end() ? nullptr : &*found;
}

const DeviceFacts* find_device(std::string_view name) {
  const auto found = std::ranges::find(device_table, name, &DeviceFacts::name);
  return found == device_table.end() ? nullptr : &*found;
}

compensation::Cell cell_of(const CellFacts& facts) { return {.model = facts.model, .response = {}, .nernst = {}}; }

compensation::Calibration calibration_of(const CellFacts& facts) {
  compensation::Calibration calibration;
  calibration.span.signal.value = millivolts(facts.cal_signal_mV);
  calibration.span.oxygen.value = DryFraction::from_si(outdoor_oxygen);
  calibration.span.gas.temperature.value = celsius(facts.cal_temperature_C);
  calibration.span.gas.humidity.value = percent_humidity(facts.cal_humidity_percent);
  calibration.span.gas.pressure.value = kilopascals(facts.cal_pressure_kPa);
  calibration.zero.value = millivolts(facts.zero_mV);
  return calibration;
}

} // namespace oxherd::demo
