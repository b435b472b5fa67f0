#include "demo/site_facts.hpp"

#include <algorithm>
#include <array>

namespace oxherd::demo {
namespace {

using compensation::CellModel;

constexpr std::array room_table{
    RoomFacts{
        .name = "cryo-annexe", .volume_m3 = 60, .air_changes_per_h = 3, .temperature_C = 21, .humidity_percent = 45},
    RoomFacts{.name = "growth-chamber-1",
              .volume_m3 = 30,
              .air_changes_per_h = 1.5,
              .temperature_C = 23,
              .night_drop_K = 4,
              .humidity_percent = 65,
              .dosing_to_ppm = 800,
              .dosing_m3_per_h = 0.06,
              .plants_mol_per_s = 1.2e-4},
    RoomFacts{.name = "pear-store-2",
              .volume_m3 = 130,
              .air_changes_per_h = 0.0012,
              .temperature_C = 1,
              .humidity_percent = 92,
              .oxygen_start = 0.0200,
              .carbon_dioxide_start = 0.007,
              .fruit_mol_per_s = 4.6e-4,
              .scrubber_m3_per_h = 5.7,
              .oxygen_hold = 0.0200},
    RoomFacts{.name = "bay-3",
              .volume_m3 = 900,
              .air_changes_per_h = 0.6,
              .temperature_C = 22,
              .night_drop_K = 5,
              .humidity_percent = 72,
              .carbon_dioxide_start = 900e-6,
              .dosing_to_ppm = 1000,
              .dosing_m3_per_h = 1.5,
              .plants_mol_per_s = 3e-3},
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
};

} // namespace

std::string_view name_of(Line line) {
  switch (line) {
  case Line::plant: return "plant";
  case Line::stores: return "stores";
  }
  return "?";
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
