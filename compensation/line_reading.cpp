#include "compensation/line_reading.hpp"

#include <cmath>

#include <fmt/format.h>

#include "compensation/checks.hpp"
#include "compensation/outputs.hpp"

namespace oxherd::compensation {

namespace {

[[nodiscard]] tl::unexpected<ReadingError> no_result(double signal_V) {
  return tl::unexpected(ReadingError{fmt::format("sample: a signal of {:.6g} mV is too far from the calibration for a "
                                                 "finite oxygen fraction; check the signal's unit "
                                                 "and the calibration",
                                                 signal_V * 1e3)});
}

} // namespace

tl::expected<void, ReadingError> check_errors(const SignalErrors& errors) {
  if (!is_uncertainty(errors.resolution_V))
    return tl::unexpected(not_an_error("sample", shown_resolution, errors.resolution_V));
  if (!is_uncertainty(errors.linearity))
    return tl::unexpected(not_an_error("sample", shown_linearity, errors.linearity));
  if (!is_uncertainty(errors.drift)) return tl::unexpected(not_an_error("sample", shown_drift, errors.drift));
  return {};
}

const GasConditions* reference_air_now(const Cell& cell) { return cell.nernst ? &cell.nernst->reference_air : nullptr; }

tl::expected<OxygenReading, ReadingError> read_on_line(const CalibrationLine& line, const Cell& cell,
                                                       const Calibration& calibration, Uncertain<Signal> signal,
                                                       const GasConditions& gas, const Surroundings& at,
                                                       const SignalErrors& errors) {
  ReadingError problem;
  if (!accepted(signal, signal_span, "sample", shown_signal, problem)) return tl::unexpected(std::move(problem));
  if (const auto checked = check_errors(errors); !checked) return tl::unexpected(checked.error());
  const cells::Law& law = *line.law;
  const double signal_V = signal.value.si();
  const double stimulus = line.stimulus_of(signal_V);
  const double dry = law.fraction(stimulus, at);
  // A Nernst cell's exponential may overflow, or underflow to no oxygen at all, where its slopes have no bound.
  if (!std::isfinite(dry) || (!law.uses_zero && !(dry > 0.0))) return no_result(signal_V);
  const SampleOf<double> sample{.at = &at,
                                .u = uncertainty_of(gas),
                                .stimulus = law.stimulus(dry, at),
                                .signal_V = signal_V,
                                .u_signal_V = signal.u_si,
                                .errors = &errors};
  const Contributions spread = reading_contributions(line, cell, calibration, sample);
  tl::expected<OxygenReading, ReadingError> result; // filled in place: a reading is too large to copy for nothing
  OxygenReading& reading = *result;
  derive_outputs(reading, dry, spread, own_spread(sample.u, at), at);
  reading.uncorrected = law.fraction(stimulus, line.span.at);
  reading.factors = law.factors(at, line.span.at);
  reading.vapour_at_calibration = Pressure::from_si(line.span.at.vapour.e_Pa);
  // The rest is finite when these are: it is made of them and of checked inputs.
  const double every_u = reading.u_dry + reading.u_wet + reading.u_po2_Pa + reading.u_molar;
  if (!std::isfinite(reading.uncorrected) || !std::isfinite(every_u)) return no_result(signal_V);
  return result;
}

} // namespace oxherd::compensation
