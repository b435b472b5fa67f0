#include "compensation/line_reading.hpp"

#include <cmath>

#include <fmt/format.h>

#include "compensation/checks.hpp"
#include "compensation/outputs.hpp"

namespace oxherd::compensation {

namespace {

/// How the dry fraction moves with signals and stimuli, by the implicit function theorem: the stimulus of the fraction
/// found must stay on the calibration line.
Weights reading_weights(const CalibrationLine& line, double signal_V, double by_stimulus) {
  const double per_V = line.stimulus_per_V;
  if (!line.measures_slope())
    return {.signal = by_stimulus, .span_signal = -by_stimulus, .sample = -by_stimulus, .span = by_stimulus};
  const double along = (signal_V - line.anchor_V) / (line.span.signal_V - line.anchor_V); // 0 at the anchor, 1 at span
  return {.signal = per_V * by_stimulus,
          .span_signal = -along * per_V * by_stimulus,
          .anchor_signal = (along - 1.0) * per_V * by_stimulus,
          .sample = -by_stimulus,
          .span = along * by_stimulus,
          .low = (1.0 - along) * by_stimulus};
}

[[nodiscard]] tl::unexpected<ReadingError> no_result(double signal_V) {
  return tl::unexpected(ReadingError{fmt::format("sample: a signal of {:.6g} mV is too far from the calibration for a "
                                                 "finite oxygen fraction; check the signal's unit "
                                                 "and the calibration",
                                                 signal_V * 1e3)});
}

[[nodiscard]] tl::expected<void, ReadingError> check_sample(const Uncertain<Signal>& signal,
                                                            const SignalErrors& errors) {
  ReadingError problem;
  if (!accepted(signal, signal_span, "sample", shown_signal, problem)) return tl::unexpected(std::move(problem));
  if (!is_uncertainty(errors.resolution_V))
    return tl::unexpected(not_an_error("sample", shown_resolution, errors.resolution_V));
  if (!is_uncertainty(errors.linearity))
    return tl::unexpected(not_an_error("sample", shown_linearity, errors.linearity));
  if (!is_uncertainty(errors.drift)) return tl::unexpected(not_an_error("sample", shown_drift, errors.drift));
  return {};
}

} // namespace

const GasConditions* reference_air_now(const Cell& cell) { return cell.nernst ? &cell.nernst->reference_air : nullptr; }

tl::expected<OxygenReading, ReadingError> read_on_line(const CalibrationLine& line, const Cell& cell,
                                                       const Calibration& calibration, Uncertain<Signal> signal,
                                                       const GasConditions& gas, const Surroundings& at,
                                                       const SignalErrors& errors) {
  if (const auto checked = check_sample(signal, errors); !checked) return tl::unexpected(checked.error());
  const cells::Law& law = *line.law;
  const double signal_V = signal.value.si();
  const double stimulus = line.stimulus_of(signal_V);
  const double dry = law.fraction(stimulus, at);
  // A Nernst cell's exponential may overflow, or underflow to no oxygen at all, where its slopes have no bound.
  if (!std::isfinite(dry) || (!law.uses_zero && !(dry > 0.0))) return no_result(signal_V);
  const Sample sample{&gas, &at, law.stimulus(dry, at), signal, &errors};
  const Weights weights = reading_weights(line, signal_V, 1.0 / sample.stimulus.d_fraction);
  const Contributions spread = contributions(weights, line, cell, calibration, &sample);
  tl::expected<OxygenReading, ReadingError> result; // filled in place: a reading is too large to copy for nothing
  OxygenReading& reading = *result;
  derive_outputs(reading, dry, spread, own_spread(gas, at), at);
  reading.uncorrected = law.fraction(stimulus, line.span.at);
  reading.factors = law.factors(at, line.span.at);
  reading.vapour_at_calibration = Pressure::from_si(line.span.at.vapour.e_Pa);
  // The rest is finite when these are: it is made of them and of checked inputs.
  const double every_u = reading.u_dry + reading.u_wet + reading.u_po2_Pa + reading.u_molar;
  if (!std::isfinite(reading.uncorrected) || !std::isfinite(every_u)) return no_result(signal_V);
  return result;
}

} // namespace oxherd::compensation
