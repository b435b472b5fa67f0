#pragma once

#include <cmath>

#include <gtest/gtest.h> // before rapidcheck, whose header needs its names

#include <rapidcheck/gtest.h>

#include "compensation/oxygen_reading.hpp"

/// Random cells, calibrations and gases, and the numbers that a broken device might deliver.
namespace oxherd::compensation::generators {

/// Even numbers between low and high, ends included.
inline rc::Gen<double> between(double low, double high) {
  return rc::gen::map(rc::gen::inRange(0, 1000001), [=](int i) { return low + (high - low) * i / 1e6; });
}

inline GasConditions any_gas() {
  GasConditions gas{.temperature = {celsius(*between(-20.0, 45.0)), *between(0.0, 1.0)},
                    .humidity = {RelativeHumidity::from_si(*between(0.0, 1.05)), *between(0.0, 0.05)},
                    .humidity_temperature = {},
                    .pressure = {pascals(*between(60e3, 120e3)), *between(0.0, 1000.0)}};
  if (*rc::gen::arbitrary<bool>())
    gas.humidity_temperature = Uncertain<Temperature>{celsius(*between(-20.0, 45.0)), *between(0.0, 1.0)};
  return gas;
}

inline Cell any_cell() {
  Cell cell{.model = *rc::gen::element(CellModel::concentration, CellModel::partial_pressure, CellModel::mole_fraction,
                                       CellModel::nernst),
            .response = {},
            .nernst = {}};
  if (cell.model == CellModel::nernst) {
    cell.nernst = NernstCell{.furnace = {celsius(*between(500.0, 900.0)), *between(0.0, 5.0)},
                             .reference_air = any_gas(),
                             .reference_oxygen = {DryFraction::from_si(0.20946), 6e-5}};
  } else if (*rc::gen::arbitrary<bool>()) {
    cell.response = {celsius(20.0), {*between(-0.004, 0.004), *between(-1e-5, 1e-5)}};
  }
  return cell;
}

/// A calibration whose points follow the cell's law, so that every signal between them is one that the cell can give.
inline Calibration any_calibration(const Cell& cell) {
  Calibration calibration{.span = {.signal = {millivolts(*between(8.0, 15.0)), *between(0.0, 1e-4)},
                                   .oxygen = {DryFraction::from_si(*between(0.1, 0.3)), *between(0.0, 1e-3)},
                                   .gas = any_gas(),
                                   .reference_air = {}},
                          .zero = {millivolts(*between(-0.5, 0.8)), *between(0.0, 1e-4)},
                          .low = {}};
  if (cell.nernst && *rc::gen::arbitrary<bool>()) calibration.span.reference_air = any_gas();
  if (*rc::gen::arbitrary<bool>())
    calibration.probes = {
        .temperature = *between(0.0, 1.0), .humidity = *between(0.0, 1.0), .pressure = *between(0.0, 1.0)};
  if (!*rc::gen::arbitrary<bool>()) return calibration;
  CalibrationPoint low{.signal = {Signal{}, *between(0.0, 1e-4)},
                       .oxygen = {DryFraction::from_si(*between(0.01, 0.05)), *between(0.0, 1e-3)},
                       .gas = any_gas(),
                       .reference_air = {}};
  low.signal.value = expected_signal(cell, calibration, low.oxygen.value, low.gas).value();
  if (cell.nernst) low.reference_air = cell.nernst->reference_air;
  calibration.low = low;
  return calibration;
}

inline SignalErrors any_errors() {
  return {.resolution_V = *between(0.0, 1e-4), .linearity = *between(0.0, 0.05), .drift = *between(0.0, 0.1)};
}

/// A number that somebody's broken device might deliver.
inline double broken() {
  return *rc::gen::oneOf(rc::gen::arbitrary<double>(), between(-1e3, 1e3),
                         rc::gen::element(0.0, -0.0, std::nan(""), HUGE_VAL, -HUGE_VAL, 1e308, -1e308, 5e-324, -5e-324,
                                          2.2250738585072014e-308, 1e300, 1e150, 1e-150));
}

} // namespace oxherd::compensation::generators
