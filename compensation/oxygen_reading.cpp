#include "compensation/oxygen_reading.hpp"

#include "compensation/calibration_line.hpp"
#include "compensation/checks.hpp"
#include "compensation/line_reading.hpp"
#include "compensation/outputs.hpp"

namespace oxherd::compensation {

namespace {

constexpr std::array<std::string_view, input_count> input_names{"signal",
                                                                "zero",
                                                                "cal-signal",
                                                                "cal-oxygen",
                                                                "cal-temperature",
                                                                "cal-humidity",
                                                                "cal-humidity-temperature",
                                                                "cal-pressure",
                                                                "low-signal",
                                                                "low-oxygen",
                                                                "temperature",
                                                                "humidity",
                                                                "humidity-temperature",
                                                                "pressure",
                                                                "furnace",
                                                                "reference-air",
                                                                "resolution",
                                                                "linearity",
                                                                "drift"};

} // namespace

std::string_view name_of(Input input) { return input_names.at(static_cast<std::size_t>(input)); }

tl::expected<OxygenReading, ReadingError> read_oxygen(const Cell& cell, const Calibration& calibration,
                                                      Uncertain<Signal> signal, const GasConditions& gas,
                                                      const SignalErrors& errors) {
  const auto line = line_of(cell, calibration);
  if (!line) return tl::unexpected(line.error());
  const auto at = resolve_at_cell(cell, gas, reference_air_now(cell), "sample");
  if (!at) return tl::unexpected(at.error());
  return read_on_line(*line, cell, calibration, signal, gas, *at, errors);
}

tl::expected<Signal, ReadingError> expected_signal(const Cell& cell, const Calibration& calibration, DryFraction oxygen,
                                                   const GasConditions& gas) {
  const auto line = line_of(cell, calibration);
  if (!line) return tl::unexpected(line.error());
  const Span covered = line->law->uses_zero ? reported_oxygen : Span{1e-30, reported_oxygen.high};
  if (!covered.covers(oxygen.si())) return tl::unexpected(outside("sample", shown_fraction, oxygen.si(), covered));
  const auto at = resolve_at_cell(cell, gas, reference_air_now(cell), "sample");
  if (!at) return tl::unexpected(at.error());
  return Signal::from_si(line->signal_of(line->law->stimulus(oxygen.si(), *at).value));
}

tl::expected<OxygenReading, ReadingError> from_fraction(Uncertain<DryFraction> reported, bool is_dry,
                                                        const GasConditions& gas) {
  ReadingError problem;
  if (!accepted(reported, reported_oxygen, "transmitter", shown_fraction, problem))
    return tl::unexpected(std::move(problem));
  const auto at = resolve(gas, "sample");
  if (!at) return tl::unexpected(at.error());
  const OwnSpread<double> own = own_spread(uncertainty_of(gas), *at);
  const double factor = is_dry ? 1.0 : 1.0 / cells::dry_part(*at);
  const double dry = reported.value.si() * factor;
  Contributions spread{};
  if (!is_dry)
    for (std::size_t i = 0; i < own_count; ++i) spread[own_first + i] = -dry * factor * own.dry_part[i];
  entry(spread, Input::signal) = reported.u_si * factor;
  OxygenReading reading;
  derive_outputs(reading, dry, spread, own, *at);
  reading.uncorrected = reported.value.si();
  reading.factors.humidity = factor;
  return reading;
}

} // namespace oxherd::compensation
