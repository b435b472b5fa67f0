#pragma once

#include <array>

#include "compensation/calibration_line.hpp"

namespace oxherd::compensation {

/// Signed contributions c u of every input to one result.
using Contributions = std::array<double, input_count>;

/// How a result moves with the signals and with the three stimuli (reading, span point, low point) it was formed from.
struct Weights {
  double signal = 0.0;
  double span_signal = 0.0;
  double anchor_signal = 0.0; ///< of the low point or, without one, of the zero
  double sample = 0.0;
  double span = 0.0;
  double low = 0.0;
};

/// The gas of a reading at the cell.
struct Sample {
  const GasConditions* gas = nullptr;
  const Surroundings* at = nullptr;
  cells::Stimulus stimulus;
  Uncertain<Signal> signal;
  const SignalErrors* errors = nullptr;
};

/// The contribution of one input, for reading and for writing.
[[nodiscard]] constexpr double& entry(Contributions& all, Input input) { return all[static_cast<std::size_t>(input)]; }

/// Contributions of all inputs. Inputs that act in several places (a shared thermometer, the furnace, the reference
/// air) have their sensitivities summed before they are multiplied by u, as fully correlated inputs must be.
/// Correlated probes are written as independent inputs: of calibration entry b with correlation r to the reading's
/// entry a, the part r b joins a and sqrt(1 - r^2) b stays, so that the squares still add to a^2 + b^2 + 2 r a b.
/// @param sample  null for results that belong to the calibration alone
/// @source GUM (JCGM 100:2008), 5.1.2 and 5.2.2, equation (16)
[[nodiscard]] Contributions contributions(const Weights& weights, const CalibrationLine& line, const Cell& cell,
                                          const Calibration& calibration, const Sample* sample);

/// Root sum of squares.
[[nodiscard]] double combined(const Contributions& all);

} // namespace oxherd::compensation
