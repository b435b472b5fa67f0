#pragma once

#include <array>
#include <string_view>

#include <tl/expected.hpp>

#include "compensation/cell.hpp"
#include "compensation/errors.hpp"

namespace oxherd::compensation {

/// The inputs whose standard uncertainties make up that of a reading, in the order of OxygenReading::budget.
/// `temperature` includes what the same thermometer does through the vapour pressure when it serves both.
enum class Input {
  signal,
  zero,
  cal_signal,
  cal_oxygen,
  cal_temperature,
  cal_humidity,
  cal_humidity_temperature,
  cal_pressure,
  low_signal,
  low_oxygen, ///< all that makes the low point's gas uncertain: its fraction and its conditions
  temperature,
  humidity,
  humidity_temperature,
  pressure,
  furnace,
  reference_air ///< all that makes the reference side of a Nernst cell uncertain: its fraction and its conditions
};
inline constexpr std::size_t input_count = 16;
[[nodiscard]] std::string_view name_of(Input input); ///< words with dashes: "cal-humidity"

/// How much each influence changed the uncorrected fraction: corrected dry = uncorrected * product of all factors.
struct Factors {
  double temperature = 1.0; ///< the cell law's own T dependence times the cell's temperature response
  double pressure = 1.0;
  double humidity = 1.0;
};

/// Everything one oxygen reading says; each u is a standard uncertainty (k = 1) in the unit of its value.
struct OxygenReading {
  DryFraction dry;
  WetFraction wet;
  OxygenPartialPressure po2;
  MolarConcentration molar;
  MassConcentration mass;
  double sea_level_equivalent = 0.0; ///< pO2 / 101 325 Pa, a ratio
  double uncorrected = 0.0;          ///< fraction that the signal alone would give: xc (S - S0)/(Sc - S0)
  Factors factors;
  Pressure vapour; ///< vapour pressure in the sample
  Pressure vapour_at_calibration;
  Pressure saturation; ///< over water, at the humidity probe
  double u_dry = 0.0;
  double u_wet = 0.0;
  double u_po2_Pa = 0.0;
  double u_molar = 0.0;
  double u_mass = 0.0;
  double u_sea_level_equivalent = 0.0;
  std::array<double, input_count> budget{}; ///< contribution |c| u of each input to u_dry, as a fraction of gas
};

/// Turns a cell's signal into oxygen. The inputs count as independent but for what is one and the same: a thermometer
/// within one GasConditions, the furnace, the reference air. The same probe used for calibration and reading counts
/// twice, which errs on the wide side. No input gives NaN without an error: a missing span between zero and calibration
/// signal, vapour pressure at or above the total pressure, or a value outside the equations is a ReadingError.
/// A slightly negative result (noise about zero) is returned as it is, not clamped.
/// @source the model laws in cells/, GUM (JCGM 100:2008) equation (10) and, for shared thermometers, (16)
/// @checked tests/compensation/oxygen_reading_test.cpp: ten worked examples and an independent propagation
[[nodiscard]] tl::expected<OxygenReading, ReadingError> read_oxygen(const Cell& cell, const Calibration& calibration,
                                                                    Uncertain<Signal> signal, const GasConditions& gas);

/// The forward model: the signal this cell would give in that gas. Inverse of read_oxygen, used by simulation and
/// tests.
[[nodiscard]] tl::expected<Signal, ReadingError> expected_signal(const Cell& cell, const Calibration& calibration,
                                                                 DryFraction oxygen, const GasConditions& gas);

/// For a transmitter that reports a fraction itself: derives the other outputs. `is_dry` tells the basis it reports on.
/// The uncertainty of the report is budget entry `signal`; there is no calibration to speak of, so its vapour is zero.
[[nodiscard]] tl::expected<OxygenReading, ReadingError> from_fraction(Uncertain<DryFraction> reported, bool is_dry,
                                                                      const GasConditions& gas);

} // namespace oxherd::compensation
