#include "compensation/oxygen_reading.hpp"

#include <cmath>

#include <fmt/format.h>

#include "compensation/budget.hpp"
#include "compensation/calibration_line.hpp"
#include "compensation/checks.hpp"
#include "compensation/constants.hpp"

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
                                                                "reference-air"};

/// The inputs that also move the gas around the cell itself; they lie together in the budget.
constexpr std::size_t own_first = static_cast<std::size_t>(Input::temperature);
constexpr std::size_t own_count = 4;
static_assert(static_cast<std::size_t>(Input::humidity) == own_first + 1);
static_assert(static_cast<std::size_t>(Input::humidity_temperature) == own_first + 2);
static_assert(static_cast<std::size_t>(Input::pressure) == own_first + 3);

/// How that gas moves with these four inputs, each already times u.
struct OwnSpread {
  std::array<double, own_count> dry_Pa{};   ///< of p - e
  std::array<double, own_count> dry_part{}; ///< of 1 - e/p
  std::array<double, own_count> t_K{};      ///< of the temperature of the gas
};

OwnSpread own_spread(const GasConditions& gas, const Surroundings& at) {
  const Vapour& v = at.vapour;
  const double by_probe_Pa = -v.d_probe * at.probe.u_si;
  const double by_humidity_Pa = -v.d_humidity * gas.humidity.u_si;
  const double by_thermometer_Pa = gas.humidity_temperature ? 0.0 : by_probe_Pa;
  const double by_own_probe_Pa = gas.humidity_temperature ? by_probe_Pa : 0.0;
  const double u_p_Pa = gas.pressure.u_si;
  return {.dry_Pa = {by_thermometer_Pa, by_humidity_Pa, by_own_probe_Pa, (1.0 - v.d_pressure) * u_p_Pa},
          .dry_part = {by_thermometer_Pa / at.p_Pa, by_humidity_Pa / at.p_Pa, by_own_probe_Pa / at.p_Pa,
                       (v.e_Pa / at.p_Pa - v.d_pressure) / at.p_Pa * u_p_Pa},
          .t_K = {gas.temperature.u_si, 0.0, 0.0, 0.0}};
}

/// Sets the fraction, what derives from it, and the standard uncertainties of all.
void derive_outputs(OxygenReading& reading, double dry, const Contributions& spread, const OwnSpread& own,
                    const Surroundings& at) {
  const double dry_Pa = at.p_Pa - at.vapour.e_Pa;
  const double part = cells::dry_part(at);
  const double po2_Pa = dry * dry_Pa;
  const double per_molar = 1.0 / (gas_constant * at.t_K);
  const double molar = po2_Pa * per_molar;
  double others = 0.0; // squares of all inputs that reach the other outputs through the dry fraction only
  for (std::size_t i = 0; i < input_count; ++i) {
    reading.budget[i] = std::fabs(spread[i]);
    if (i < own_first || i >= own_first + own_count) others += spread[i] * spread[i];
  }
  double dry2 = others;
  double wet2 = part * part * others;
  double po2_2 = dry_Pa * dry_Pa * others;
  double molar2 = per_molar * per_molar * po2_2;
  for (std::size_t i = 0; i < own_count; ++i) {
    const double c = spread[own_first + i];
    const double by_wet = part * c + dry * own.dry_part[i];
    const double by_po2 = dry_Pa * c + dry * own.dry_Pa[i];
    const double by_molar = by_po2 * per_molar - molar / at.t_K * own.t_K[i];
    dry2 += c * c;
    wet2 += by_wet * by_wet;
    po2_2 += by_po2 * by_po2;
    molar2 += by_molar * by_molar;
  }
  reading.dry = DryFraction::from_si(dry);
  reading.wet = WetFraction::from_si(dry * part);
  reading.po2 = OxygenPartialPressure::from_si(po2_Pa);
  reading.molar = MolarConcentration::from_si(molar);
  reading.mass = MassConcentration::from_si(molar * oxygen_molar_mass);
  reading.sea_level_equivalent = po2_Pa / standard_atmosphere;
  reading.vapour = Pressure::from_si(at.vapour.e_Pa);
  reading.saturation = Pressure::from_si(at.vapour.saturation_Pa);
  reading.u_dry = std::sqrt(dry2);
  reading.u_wet = std::sqrt(wet2);
  reading.u_po2_Pa = std::sqrt(po2_2);
  reading.u_molar = std::sqrt(molar2);
  reading.u_mass = reading.u_molar * oxygen_molar_mass;
  reading.u_sea_level_equivalent = reading.u_po2_Pa / standard_atmosphere;
}

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

const GasConditions* reference_air_now(const Cell& cell) { return cell.nernst ? &cell.nernst->reference_air : nullptr; }

} // namespace

std::string_view name_of(Input input) { return input_names.at(static_cast<std::size_t>(input)); }

tl::expected<OxygenReading, ReadingError> read_oxygen(const Cell& cell, const Calibration& calibration,
                                                      Uncertain<Signal> signal, const GasConditions& gas) {
  ReadingError problem;
  if (!accepted(signal, signal_span, "sample", shown_signal, problem)) return tl::unexpected(std::move(problem));
  const auto line = line_of(cell, calibration);
  if (!line) return tl::unexpected(line.error());
  const auto at = resolve_at_cell(cell, gas, reference_air_now(cell), "sample");
  if (!at) return tl::unexpected(at.error());

  const cells::Law& law = *line->law;
  const double signal_V = signal.value.si();
  const double stimulus = line->stimulus_of(signal_V);
  const double dry = law.fraction(stimulus, *at);
  // A Nernst cell's exponential may overflow, or underflow to no oxygen at all, where its slopes have no bound.
  if (!std::isfinite(dry) || (!law.uses_zero && !(dry > 0.0))) return no_result(signal_V);
  const Sample sample{&gas, &*at, law.stimulus(dry, *at), signal.u_si};
  const Weights weights = reading_weights(*line, signal_V, 1.0 / sample.stimulus.d_fraction);
  const Contributions spread = contributions(weights, *line, cell, calibration, &sample);
  tl::expected<OxygenReading, ReadingError> result; // filled in place: a reading is too large to copy for nothing
  OxygenReading& reading = *result;
  derive_outputs(reading, dry, spread, own_spread(gas, *at), *at);
  reading.uncorrected = law.fraction(stimulus, line->span.at);
  reading.factors = law.factors(*at, line->span.at);
  reading.vapour_at_calibration = Pressure::from_si(line->span.at.vapour.e_Pa);
  // The rest is finite when these are: it is made of them and of checked inputs.
  if (!std::isfinite(reading.uncorrected) || !std::isfinite(reading.u_dry + reading.u_po2_Pa))
    return no_result(signal_V);
  return result;
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
  const OwnSpread own = own_spread(gas, *at);
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
