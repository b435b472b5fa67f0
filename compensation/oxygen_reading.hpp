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
  reference_air, ///< all that makes the reference side of a Nernst cell uncertain: its fraction and its conditions
  resolution,    ///< these last three: see SignalErrors
  linearity,
  drift
};
inline constexpr std::size_t input_count = 19;
[[nodiscard]] std::string_view name_of(Input input); ///< words with dashes: "cal-humidity"

/// What the signal of a reading may be wrong by beside its own standard uncertainty; each is a budget entry of its own.
struct SignalErrors {
  /// Step of the indication, V. The signal lies anywhere within half a step to either side, so u = step / sqrt(12).
  /// That of the calibration's signals belongs into their own u.
  /// @source GUM (JCGM 100:2008), 4.3.7 and F.2.2.1
  double resolution_V = 0.0;
  /// How far the cell departs from its straight line: the standard uncertainty midway between the two points of the
  /// calibration, as a ratio of the signal between them. The line is exact at both points, and the simplest departure
  /// that vanishes there is a parabola: u = linearity * |4 a (1 - a)| * range, with a = 0 at one point and 1 at the
  /// other. It grows fast beyond them: as large as midway a fifth of the range outside, eight times at twice the range.
  /// A Nernst cell with one point has no second: there u = linearity * |S - Sc|.
  double linearity = 0.0;
  /// How far the sensitivity may have drifted since the calibration: relative standard uncertainty of the sensitivity,
  /// with the zero unmoved. For a cell that is linear in oxygen it is that of the reading too. A drift within +-a for
  /// all one knows has u = a / sqrt(3); where it dominates, two standard uncertainties cover more than 95 %.
  /// @source GUM (JCGM 100:2008), 4.3.7
  double drift = 0.0;
};

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
/// within one GasConditions, the furnace, the reference air, and probes as far as Calibration::probes says so. No input
/// gives NaN without an error: a missing span between zero and calibration signal, vapour pressure at or above the
/// total pressure, or a value outside the equations is a ReadingError. A slightly negative result (noise about zero) is
/// returned as it is, not clamped.
/// @source the model laws in cells/, GUM (JCGM 100:2008) equation (10) and, for shared thermometers, (16)
/// @checked tests/compensation/oxygen_reading_test.cpp: ten worked examples; uncertainty_test.cpp, monte_carlo_test.cpp
///          and independent_budget_test.cpp beside it: the budget
[[nodiscard]] tl::expected<OxygenReading, ReadingError> read_oxygen(const Cell& cell, const Calibration& calibration,
                                                                    Uncertain<Signal> signal, const GasConditions& gas,
                                                                    const SignalErrors& errors = {});

/// The forward model: the signal this cell would give in that gas. Inverse of read_oxygen, used by simulation and
/// tests.
[[nodiscard]] tl::expected<Signal, ReadingError> expected_signal(const Cell& cell, const Calibration& calibration,
                                                                 DryFraction oxygen, const GasConditions& gas);

/// For a transmitter that reports a fraction itself: derives the other outputs. `is_dry` tells the basis it reports on.
/// The uncertainty of the report is budget entry `signal`; there is no calibration to speak of, so its vapour is zero.
[[nodiscard]] tl::expected<OxygenReading, ReadingError> from_fraction(Uncertain<DryFraction> reported, bool is_dry,
                                                                      const GasConditions& gas);

} // namespace oxherd::compensation
