#pragma once

#include <tl/expected.hpp>

#include "compensation/budget.hpp"
#include "compensation/calibration_line.hpp"

namespace oxherd::compensation {

/// The air on the reference side of a Nernst cell now; null for the other models.
[[nodiscard]] const GasConditions* reference_air_now(const Cell& cell);

/// Whether a signal may be wrong by that.
[[nodiscard]] tl::expected<void, ReadingError> check_errors(const SignalErrors& errors);

/// Contributions to the dry fraction of a sample, by the implicit function theorem: the stimulus of the fraction found
/// must stay on the calibration line.
template <class Real>
[[nodiscard]] inline ContributionsOf<Real> reading_contributions(const CalibrationLine& line, const Cell& cell,
                                                                 const Calibration& calibration,
                                                                 const SampleOf<Real>& sample) {
  const Real by_stimulus = 1.0 / sample.stimulus.d_fraction;
  const double per_V = line.stimulus_per_V;
  WeightsOf<Real> weights{
      .signal = by_stimulus, .span_signal = -by_stimulus, .sample = -by_stimulus, .span = by_stimulus};
  if (line.measures_slope()) {
    const Real along = (sample.signal_V - line.anchor_V) / (line.span.signal_V - line.anchor_V); // 1 at the span
    weights = {.signal = per_V * by_stimulus,
               .span_signal = -along * per_V * by_stimulus,
               .anchor_signal = (along - 1.0) * per_V * by_stimulus,
               .sample = -by_stimulus,
               .span = along * by_stimulus,
               .low = (1.0 - along) * by_stimulus};
  }
  return contributions(weights, line, cell, calibration, &sample);
}

/// One reading by a line that was computed before: what read_oxygen and PreparedCell share, so that they cannot differ.
/// @param line  line_of this cell and this calibration
/// @param gas   the conditions of the sample
/// @param at    the same, resolved for this cell
[[nodiscard]] tl::expected<OxygenReading, ReadingError>
read_on_line(const CalibrationLine& line, const Cell& cell, const Calibration& calibration, Uncertain<Signal> signal,
             const GasConditions& gas, const Surroundings& at, const SignalErrors& errors);

} // namespace oxherd::compensation
