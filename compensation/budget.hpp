#pragma once

#include <array>
#include <cmath>

#include "compensation/calibration_line.hpp"

namespace oxherd::compensation {

/// Signed contributions c u of every input to one result.
template <class Real> using ContributionsOf = std::array<Real, input_count>;
using Contributions = ContributionsOf<double>;

/// How a result moves with the signals and with the three stimuli (reading, span point, low point) it was formed from.
template <class Real> struct WeightsOf {
  Real signal{};
  Real span_signal{};
  Real anchor_signal{}; ///< of the low point or, without one, of the zero
  Real sample{};
  Real span{};
  Real low{};
};
using Weights = WeightsOf<double>;

/// The gas of a reading at the cell.
template <class Real> struct SampleOf {
  const SurroundingsOf<Real>* at = nullptr;
  GasUncertainty<Real> u;
  cells::StimulusOf<Real> stimulus;
  Real signal_V{};
  Real u_signal_V{};
  const SignalErrors* errors = nullptr;
};

/// The contribution of one input, for reading and for writing.
template <class Real> [[nodiscard]] constexpr Real& entry(ContributionsOf<Real>& all, Input input) {
  return all[static_cast<std::size_t>(input)];
}

namespace parts {

/// Contributions of the four conditions of one gas.
template <class Real> struct GasSpread {
  Real temperature{};
  Real humidity{};
  Real humidity_temperature{};
  Real pressure{};
};

/// @param stimulus  of a sample in `Real`, or of a calibration point in double
template <class Real, class Of>
[[nodiscard]] inline GasSpread<Real> gas_spread(Real weight, const cells::StimulusOf<Of>& stimulus,
                                                const SurroundingsOf<Of>& at, const GasUncertainty<Of>& u) {
  const Real by_e = weight * stimulus.d_e;
  const Real by_t = weight * stimulus.d_t;
  const Real by_probe = by_e * at.vapour.d_probe;
  return {.temperature = (u.own_probe ? by_t : by_t + by_probe) * u.temperature_K,
          .humidity = by_e * at.vapour.d_humidity * u.humidity,
          .humidity_temperature = u.own_probe ? by_probe * u.probe_K : Real{},
          .pressure = (weight * stimulus.d_p + by_e * at.vapour.d_pressure) * u.pressure_Pa};
}

/// The reference air of a Nernst cell. Points calibrated in the air that is there now share its errors, so their
/// weights are summed and may cancel; points with an air of their own count alone. The oxygen fraction is always the
/// same.
template <class Real>
[[nodiscard]] inline Real reference_spread(const WeightsOf<Real>& weights, const CalibrationLine& line,
                                           const NernstCell& nernst, const Calibration& calibration,
                                           const SampleOf<Real>* sample) {
  Real by_oxygen{};
  Real shared{};
  double shared_u_Pa = 0.0;
  Real squares{};
  const auto take = [&](Real weight, const auto& stimulus, const auto& at, bool own_air) {
    const Real by_reference = weight * stimulus.d_reference;
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
  const Real oxygen = by_oxygen * nernst.reference_oxygen.u_si;
  const Real air = shared * shared_u_Pa;
  return square_root(oxygen * oxygen + air * air + squares);
}

/// What the signal itself may be wrong by.
template <class Real>
inline void add_signal_errors(ContributionsOf<Real>& all, Real weight, const CalibrationLine& line,
                              const SampleOf<Real>& sample) {
  const Real signal_V = sample.signal_V;
  const SignalErrors& errors = *sample.errors;
  entry<Real>(all, Input::signal) = weight * sample.u_signal_V;
  entry<Real>(all, Input::resolution) = weight * errors.resolution_V / std::sqrt(12.0);
  entry<Real>(all, Input::linearity) = weight * errors.linearity * line.departure_of(signal_V);
  entry<Real>(all, Input::drift) = weight * errors.drift * (signal_V - line.signal_of(0.0));
}

template <class Real> inline void correlate(ContributionsOf<Real>& all, Input now, Input then, double r) {
  if (r == 0.0) return; // the usual case
  const Real at_calibration = entry<Real>(all, then);
  entry<Real>(all, now) += r * at_calibration;
  entry<Real>(all, then) = std::sqrt(1.0 - r * r) * at_calibration;
}

} // namespace parts

/// Contributions of all inputs. Inputs that act in several places (a shared thermometer, the furnace, the reference
/// air) have their sensitivities summed before they are multiplied by u, as fully correlated inputs must be.
/// Correlated probes are written as independent inputs: of calibration entry b with correlation r to the reading's
/// entry a, the part r b joins a and sqrt(1 - r^2) b stays, so that the squares still add to a^2 + b^2 + 2 r a b.
/// @param sample  null for results that belong to the calibration alone
/// @source GUM (JCGM 100:2008), 5.1.2 and 5.2.2, equation (16)
template <class Real>
[[nodiscard]] inline ContributionsOf<Real> contributions(const WeightsOf<Real>& weights, const CalibrationLine& line,
                                                         const Cell& cell, const Calibration& calibration,
                                                         const SampleOf<Real>* sample) {
  using namespace parts;
  ContributionsOf<Real> all{};
  const auto set = [&all](Input input, Real value) { entry<Real>(all, input) = value; };
  Real by_furnace = weights.span * line.span.stimulus.d_furnace;
  if (sample != nullptr) {
    const GasSpread<Real> gas = gas_spread(weights.sample, sample->stimulus, *sample->at, sample->u);
    add_signal_errors(all, weights.signal, line, *sample);
    set(Input::temperature, gas.temperature);
    set(Input::humidity, gas.humidity);
    set(Input::humidity_temperature, gas.humidity_temperature);
    set(Input::pressure, gas.pressure);
    by_furnace += weights.sample * sample->stimulus.d_furnace;
  }
  const CalibrationPoint& span = calibration.span;
  const GasSpread<Real> gas = gas_spread(weights.span, line.span.stimulus, line.span.at, uncertainty_of(span.gas));
  set(Input::cal_signal, weights.span_signal * span.signal.u_si);
  set(Input::cal_oxygen, weights.span * line.span.stimulus.d_fraction * span.oxygen.u_si);
  set(Input::cal_temperature, gas.temperature);
  set(Input::cal_humidity, gas.humidity);
  set(Input::cal_humidity_temperature, gas.humidity_temperature);
  set(Input::cal_pressure, gas.pressure);
  if (line.low && calibration.low) {
    const CalibrationPoint& low = *calibration.low;
    const GasSpread<Real> low_gas = gas_spread(weights.low, line.low->stimulus, line.low->at, uncertainty_of(low.gas));
    const Real by_oxygen = weights.low * line.low->stimulus.d_fraction * low.oxygen.u_si;
    set(Input::low_signal, weights.anchor_signal * low.signal.u_si);
    set(Input::low_oxygen,
        square_root(by_oxygen * by_oxygen + low_gas.temperature * low_gas.temperature +
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
    correlate<Real>(all, Input::temperature, Input::cal_temperature, r.temperature);
    correlate<Real>(all, Input::humidity, Input::cal_humidity, r.humidity);
    correlate<Real>(all, Input::humidity_temperature, Input::cal_humidity_temperature, r.temperature);
    correlate<Real>(all, Input::pressure, Input::cal_pressure, r.pressure);
  }
  return all;
}

/// Root sum of squares.
[[nodiscard]] double combined(const Contributions& all);

} // namespace oxherd::compensation
