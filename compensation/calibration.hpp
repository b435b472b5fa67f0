#pragma once

#include <string_view>

#include <tl/expected.hpp>

#include "compensation/cell.hpp"
#include "compensation/errors.hpp"

namespace oxherd::compensation {

/// What a calibration says about the cell itself, freed from the conditions of the day: comparing these figures over
/// the years shows a cell's ageing. Each u is a standard uncertainty in the unit of its value.
struct CellCharacteristic {
  /// Signal per stimulus at the reference temperature of the response: V/(mol/m3), V/Pa or V (per unit fraction) for
  /// `concentration`, `partial-pressure` and `mole-fraction`; for `nernst` the slope factor, a ratio (ideal: 1).
  double sensitivity = 0.0;
  double u_sensitivity = 0.0;
  std::string_view sensitivity_unit; ///< empty for a ratio
  /// Signal without oxygen; for `nernst` the asymmetry offset E0, the signal when both sides hold equal oxygen.
  Uncertain<Signal> zero;
};

/// Derives sensitivity and zero from a span point with the zero, or from a span and a low point.
/// A Nernst cell with one point has the slope factor 1 by assumption, so its u is 0; `Calibration::zero` is not used.
/// @return ReadingError as read_oxygen would give for the same calibration
/// @source straight line through two points; GUM (JCGM 100:2008) equation (10)
/// @checked tests/compensation/calibration_test.cpp
[[nodiscard]] tl::expected<CellCharacteristic, ReadingError> characterise(const Cell& cell,
                                                                          const Calibration& calibration);

} // namespace oxherd::compensation
