#include "compensation/budget.hpp"

#include <cmath>

namespace oxherd::compensation {

namespace {

/// Contributions of the four conditions of one gas.
struct GasSpread {
  double temperature = 0.0;
  double humidity = 0.0;
  double humidity_temperature = 0.0;
  double pressure = 0.0;
};

GasSpread gas_spread(double weight, const cells::Stimulus& stimulus, const Surroundings& at, const GasConditions& gas) {
  const double by_e = weight * stimulus.d_e;
  const double by_t = weight * stimulus.d_t;
  const double by_probe = by_e * at.vapour.d_probe;
  const bool own_probe = gas.humidity_temperature.has_value();
  return {.temperature = (own_probe ? by_t : by_t + by_probe) * gas.temperature.u_si,
          .humidity = by_e * at.vapour.d_humidity * gas.humidity.u_si,
          .humidity_temperature = own_probe ? by_probe * gas.humidity_temperature->u_si : 0.0,
          .pressure = (weight * stimulus.d_p + by_e * at.vapour.d_pressure) * gas.pressure.u_si};
}

/// The reference air of a Nernst cell. Points calibrated in the air that is there now share its errors, so their
/// weights are summed and may cancel; points with an air of their own count alone. The oxygen fraction is always the
/// same.
double reference_spread(const Weights& weights, const CalibrationLine& line, const NernstCell& nernst,
                        const Calibration& calibration, const Sample* sample) {
  double by_oxygen = 0.0;
  double shared = 0.0;
  double shared_u_Pa = 0.0;
  double squares = 0.0;
  const auto take = [&](double weight, const cells::Stimulus& stimulus, const Surroundings& at, bool own_air) {
    const double by_reference = weight * stimulus.d_reference;
    by_oxygen += by_reference * at.reference_dry_Pa;
    if (own_air) {
      squares += by_reference * by_reference * at.u_reference_air_Pa * at.u_reference_air_Pa;
    } else {
      shared += by_reference;
      shared_u_Pa = at.u_reference_air_Pa;
    }
  };
  if (sample != nullptr) take(weights.sample, sample->stimulus, *sample->at, false);
  take(weights.span, line.span.stimulus, line.span.at, calibration.span.reference_air.has_value());
  if (line.low && calibration.low)
    take(weights.low, line.low->stimulus, line.low->at, calibration.low->reference_air.has_value());
  const double oxygen = by_oxygen * nernst.reference_oxygen.u_si;
  const double air = shared * shared_u_Pa;
  return std::sqrt(oxygen * oxygen + air * air + squares);
}

/// What the signal itself may be wrong by.
void add_signal_errors(Contributions& all, double weight, const CalibrationLine& line, const Sample& sample) {
  const double signal_V = sample.signal.value.si();
  const SignalErrors& errors = *sample.errors;
  entry(all, Input::signal) = weight * sample.signal.u_si;
  entry(all, Input::resolution) = weight * errors.resolution_V / std::sqrt(12.0);
  entry(all, Input::linearity) = weight * errors.linearity * line.departure_of(signal_V);
  entry(all, Input::drift) = weight * errors.drift * (signal_V - line.signal_of(0.0));
}

void correlate(Contributions& all, Input now, Input then, double r) {
  const double at_calibration = entry(all, then);
  entry(all, now) += r * at_calibration;
  entry(all, then) = std::sqrt(1.0 - r * r) * at_calibration;
}

} // namespace

Contributions contributions(const Weights& weights, const CalibrationLine& line, const Cell& cell,
                            const Calibration& calibration, const Sample* sample) {
  Contributions all{};
  const auto set = [&all](Input input, double value) { entry(all, input) = value; };
  double by_furnace = weights.span * line.span.stimulus.d_furnace;
  if (sample != nullptr) {
    const GasSpread gas = gas_spread(weights.sample, sample->stimulus, *sample->at, *sample->gas);
    add_signal_errors(all, weights.signal, line, *sample);
    set(Input::temperature, gas.temperature);
    set(Input::humidity, gas.humidity);
    set(Input::humidity_temperature, gas.humidity_temperature);
    set(Input::pressure, gas.pressure);
    by_furnace += weights.sample * sample->stimulus.d_furnace;
  }
  const CalibrationPoint& span = calibration.span;
  const GasSpread gas = gas_spread(weights.span, line.span.stimulus, line.span.at, span.gas);
  set(Input::cal_signal, weights.span_signal * span.signal.u_si);
  set(Input::cal_oxygen, weights.span * line.span.stimulus.d_fraction * span.oxygen.u_si);
  set(Input::cal_temperature, gas.temperature);
  set(Input::cal_humidity, gas.humidity);
  set(Input::cal_humidity_temperature, gas.humidity_temperature);
  set(Input::cal_pressure, gas.pressure);
  if (line.low && calibration.low) {
    const CalibrationPoint& low = *calibration.low;
    const GasSpread low_gas = gas_spread(weights.low, line.low->stimulus, line.low->at, low.gas);
    const double by_oxygen = weights.low * line.low->stimulus.d_fraction * low.oxygen.u_si;
    set(Input::low_signal, weights.anchor_signal * low.signal.u_si);
    set(Input::low_oxygen,
        std::sqrt(by_oxygen * by_oxygen + low_gas.temperature * low_gas.temperature +
                  low_gas.humidity * low_gas.humidity + low_gas.humidity_temperature * low_gas.humidity_temperature +
                  low_gas.pressure * low_gas.pressure));
    by_furnace += weights.low * line.low->stimulus.d_furnace;
  } else if (line.law->uses_zero) {
    set(Input::zero, weights.anchor_signal * calibration.zero.u_si);
  }
  if (cell.nernst) {
    set(Input::furnace, by_furnace * cell.nernst->furnace.u_si);
    set(Input::reference_air, reference_spread(weights, line, *cell.nernst, calibration, sample));
  }
  if (sample != nullptr) {
    const ProbeCorrelation& r = calibration.probes;
    correlate(all, Input::temperature, Input::cal_temperature, r.temperature);
    correlate(all, Input::humidity, Input::cal_humidity, r.humidity);
    correlate(all, Input::humidity_temperature, Input::cal_humidity_temperature, r.temperature);
    correlate(all, Input::pressure, Input::cal_pressure, r.pressure);
  }
  return all;
}

double combined(const Contributions& all) {
  double squares = 0.0;
  for (const double part : all) squares += part * part;
  return std::sqrt(squares);
}

} // namespace oxherd::compensation
