#pragma once

#include <optional>
#include <string>
#include <vector>

#include "compensation/constants.hpp"
#include "compensation/quantity.hpp"

namespace oxherd::compensation {

/// What the signal of a cell follows; design words, see each file in cells/.
enum class CellModel { concentration, partial_pressure, mole_fraction, nernst };

/// Polynomial response g(t) = 1 + a1 (t - reference) + a2 (t - reference)^2 + ... that multiplies the sensitivity.
struct TemperatureResponse {
  Temperature reference = celsius(20.0);
  std::vector<double> coefficients; ///< a1 in 1/K, a2 in 1/K2, ...; empty: g = 1
};

/// The gas at a cell. The cell's law takes the temperature of the gas at the cell; the vapour pressure comes from the
/// humidity probe at the probe's own temperature.
struct GasConditions {
  Uncertain<Temperature> temperature;
  Uncertain<RelativeHumidity> humidity;
  /// Empty: one and the same thermometer serves both, so its error acts through both at once.
  std::optional<Uncertain<Temperature>> humidity_temperature;
  Uncertain<Pressure> pressure;
};

/// The parts of a zirconia cell that the other models do not have.
struct NernstCell {
  Uncertain<Temperature> furnace{celsius(700.0), 2.0};
  GasConditions reference_air; ///< the air on the reference side
  Uncertain<DryFraction> reference_oxygen{DryFraction::from_si(fresh_air_oxygen), 0.00006};
};

/// One oxygen cell as it is built, before any calibration.
struct Cell {
  CellModel model = CellModel::concentration;
  TemperatureResponse response;
  std::optional<NernstCell> nernst; ///< present exactly when model is nernst
};

/// One point of a calibration: the signal in a gas of known oxygen under known conditions. Bone-dry gas: humidity 0.
struct CalibrationPoint {
  Uncertain<Signal> signal;
  Uncertain<DryFraction> oxygen{DryFraction::from_si(fresh_air_oxygen), 0.00006};
  GasConditions gas;
  /// Nernst cells: the air on the reference side at that time. Empty: the very air of NernstCell::reference_air, so
  /// that its errors cancel. Give it when the reference side follows the weather, or the change of pressure is not
  /// seen.
  std::optional<GasConditions> reference_air;
};

/// How far the errors of the probes at a calibration and at a reading are the same, from 0 (other instruments) to 1
/// (one instrument whose error is an offset that stays). What they share largely cancels, so claim it only for one and
/// the same probe without adjustment in between. `temperature` holds for both thermometers of a gas, each with its
/// like; the gas of a low point counts as independent.
struct ProbeCorrelation {
  double temperature = 0.0;
  double humidity = 0.0;
  double pressure = 0.0;
};

/// A calibration. One point: `zero` is nominal or was measured in nitrogen. Two points: `low` replaces `zero`.
/// Nernst cells do not use `zero` (without oxygen their voltage has no bound): one point gives the asymmetry offset E0,
/// two points the slope factor as well.
struct Calibration {
  CalibrationPoint span;
  Uncertain<Signal> zero{Signal::from_si(0.0), 0.0};
  std::optional<CalibrationPoint> low;
  ProbeCorrelation probes{}; ///< of the span point's gas to that of a reading
};

} // namespace oxherd::compensation
