#pragma once

#include <chrono>
#include <string>
#include <vector>

#include "daemon/calibration/record.hpp"

/// Made-up records of Larkfield's cells.
namespace oxherd::daemon::example_records {

inline WallTime day(int year, unsigned month, unsigned day_of_month) {
  return std::chrono::sys_days{std::chrono::year{year} / std::chrono::month{month} / std::chrono::day{day_of_month}};
}

inline Uncertain<DryFraction> dry(double value, double u) { return {DryFraction::from_si(value), u}; }

inline compensation::GasConditions room_air() {
  return {.temperature = {celsius(21.0), 0.2},
          .humidity = {percent_humidity(45.0), 0.02},
          .humidity_temperature = {},
          .pressure = {pascals(99800.0), 30.0}};
}

inline StabilityEvidence quiet() {
  return {.seconds = 120.0,
          .samples = 121,
          .slope_per_minute = -0.0001,
          .u_slope_per_minute = 0.00008,
          .scatter = 0.0005,
          .temperature_slope_K_per_minute = 0.01,
          .stable = true};
}

inline TakenPoint air_point(double signal_mV = 12.6) {
  TakenPoint point;
  point.values = {
      .signal = {millivolts(signal_mV), 0.01e-3}, .oxygen = point.gas.oxygen, .gas = room_air(), .reference_air = {}};
  point.stability = quiet();
  point.temperature_from = point.humidity_from = point.pressure_from = "cryo-annexe/air";
  return point;
}

inline TakenPoint nitrogen_point(double signal_mV = 0.3) {
  TakenPoint point = air_point(signal_mV);
  point.gas = {.kind = GasKind::nitrogen,
               .oxygen = {DryFraction::from_si(0.00001), 0.000005},
               .cylinder = "N-204",
               .certificate = "LK-C-0831",
               .expires = day(2027, 6, 30)};
  point.values.oxygen = point.gas.oxygen;
  point.values.gas.humidity = {percent_humidity(0.0), 0.0};
  return point;
}

/// An adjustment of cell LK-0007 in fresh air. `sensitivity` in V/(mol/m3).
inline CalibrationRecord adjustment(std::int64_t number, WallTime performed, double sensitivity = 0.0014) {
  CalibrationRecord record;
  record.number = number;
  record.act = CalibrationAct::adjustment;
  record.performed = performed;
  record.recorded = performed + std::chrono::minutes{2};
  record.room = "cryo-annexe";
  record.sensor = "cell-a";
  record.serial = "LK-0007";
  record.model = "concentration";
  record.author = "R. Alder";
  record.points = {air_point()};
  record.calibration =
      compensation::Calibration{.span = record.points[0].values, .zero = {millivolts(0.3), 0.05e-3}, .low = {}};
  record.characteristic = compensation::CellCharacteristic{.sensitivity = sensitivity,
                                                           .u_sensitivity = 0.005 * sensitivity,
                                                           .sensitivity_unit = "V/(mol/m3)",
                                                           .zero = {millivolts(0.3), 0.05e-3}};
  return record;
}

/// A check in span gas of 20.9 % that found `reads`.
inline CalibrationRecord check(std::int64_t number, WallTime performed, double reads) {
  CalibrationRecord record = adjustment(number, performed);
  record.act = CalibrationAct::check;
  record.calibration.reset();
  record.characteristic.reset();
  auto& point = record.points[0];
  point.gas = {.kind = GasKind::span_gas,
               .oxygen = {DryFraction::from_si(0.209), 0.0004},
               .cylinder = "S-118",
               .certificate = "LK-C-0902",
               .expires = day(2027, 3, 31)};
  point.values.oxygen = point.gas.oxygen;
  point.as_found = dry(reads, 0.0008);
  return record;
}

inline CalibrationRecord withdrawal(std::int64_t number, WallTime performed, std::int64_t of) {
  CalibrationRecord record = adjustment(number, performed);
  record.act = CalibrationAct::withdrawal;
  record.points.clear();
  record.calibration.reset();
  record.characteristic.reset();
  record.supersedes = of;
  record.reason = "the hose was off";
  return record;
}

} // namespace oxherd::daemon::example_records
