#pragma once

#include <optional>

#include <tl/expected.hpp>

#include "compensation/cells/law.hpp"

namespace oxherd::compensation {

/// One calibration point, checked and resolved.
struct LinePoint {
  double signal_V = 0.0;
  Surroundings at;
  cells::Stimulus stimulus;
};

/// The straight line from signal to stimulus that a calibration fixes. It runs through the span point and an anchor:
/// the zero (no stimulus), the low point or, for a Nernst cell with one point, the span point itself with the slope 1.
struct CalibrationLine {
  const cells::Law* law = nullptr;
  LinePoint span;
  std::optional<LinePoint> low;
  double anchor_V = 0.0;
  double anchor_stimulus = 0.0;
  double stimulus_per_V = 0.0;

  template <class Real> [[nodiscard]] Real stimulus_of(Real signal_V) const {
    return anchor_stimulus + (signal_V - anchor_V) * stimulus_per_V;
  }
  [[nodiscard]] double signal_of(double stimulus) const {
    return anchor_V + (stimulus - anchor_stimulus) / stimulus_per_V;
  }
  /// How far a cell may depart from the line at this signal, V: a parabola that vanishes at both points and equals
  /// their distance midway; with the nominal slope of a Nernst cell, the distance from the one point.
  template <class Real> [[nodiscard]] Real departure_of(Real signal_V) const {
    if (!measures_slope()) return signal_V - span.signal_V;
    const double range_V = span.signal_V - anchor_V;
    const Real along = (signal_V - anchor_V) / range_V;
    return 4.0 * along * (1.0 - along) * range_V;
  }
  /// Whether the slope comes from two points of signal (false: it is the nominal 1 of a Nernst cell).
  [[nodiscard]] bool measures_slope() const { return low || law->uses_zero; }
};

/// Checks cell and calibration and computes the line.
/// @return ReadingError for inputs outside their spans, a cell whose parts do not fit its model, and points without a
///         difference in signal or in stimulus
[[nodiscard]] tl::expected<CalibrationLine, ReadingError> line_of(const Cell& cell, const Calibration& calibration);

} // namespace oxherd::compensation
