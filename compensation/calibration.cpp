#include "compensation/calibration.hpp"

#include "compensation/budget.hpp"
#include "compensation/calibration_line.hpp"

namespace oxherd::compensation {

tl::expected<CellCharacteristic, ReadingError> characterise(const Cell& cell, const Calibration& calibration) {
  const auto line = line_of(cell, calibration);
  if (!line) return tl::unexpected(line.error());
  const double sensitivity = 1.0 / line->stimulus_per_V;
  const double zero_V = line->signal_of(0.0);
  // The slopes of both results by signals and stimuli, where sensitivity k = dS/dY and zero = Sc - k Yc.
  Weights of_sensitivity;
  Weights of_zero{.span_signal = 1.0, .span = -1.0};
  if (line->measures_slope()) {
    const double range = line->span.stimulus.value - line->anchor_stimulus;
    const double anchor = line->anchor_stimulus / range;
    const double span = line->span.stimulus.value / range;
    of_sensitivity = {.span_signal = 1.0 / range,
                      .anchor_signal = -1.0 / range,
                      .span = -sensitivity / range,
                      .low = sensitivity / range};
    of_zero = {.span_signal = -anchor, .anchor_signal = span, .span = sensitivity * anchor, .low = -sensitivity * span};
  }
  const double u_sensitivity = combined(contributions<double>(of_sensitivity, *line, cell, calibration, nullptr));
  const double u_zero_V = combined(contributions<double>(of_zero, *line, cell, calibration, nullptr));
  return CellCharacteristic{.sensitivity = sensitivity,
                            .u_sensitivity = u_sensitivity,
                            .sensitivity_unit = line->law->sensitivity_unit,
                            .zero = {Signal::from_si(zero_V), u_zero_V}};
}

} // namespace oxherd::compensation
