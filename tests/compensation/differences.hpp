#pragma once

#include <array>
#include <cmath>
#include <vector>

#include "compensation/calibration.hpp"
#include "compensation/oxygen_reading.hpp"

namespace oxherd::compensation::differences {

/// All inputs of one reading.
struct Inputs {
  Cell cell;
  Calibration calibration;
  Uncertain<Signal> signal;
  GasConditions gas;
  SignalErrors errors{};
};

[[nodiscard]] inline tl::expected<OxygenReading, ReadingError> read(const Inputs& x) {
  return read_oxygen(x.cell, x.calibration, x.signal, x.gas, x.errors);
}

/// The four (or three) conditions of a gas and where they belong in the budget.
struct Slots {
  Input temperature, humidity, probe, pressure;
};

template <class Visit> void each_condition(const Slots& slots, GasConditions& gas, Visit visit) {
  visit(slots.temperature, gas.temperature);
  visit(slots.humidity, gas.humidity);
  if (gas.humidity_temperature) visit(slots.probe, *gas.humidity_temperature);
  visit(slots.pressure, gas.pressure);
}

/// Calls visit(slot, Uncertain<Q>&) for every elementary input, in a fixed order.
template <class Visit> void each_input(Inputs& x, Visit visit) {
  constexpr Slots all_reference{Input::reference_air, Input::reference_air, Input::reference_air, Input::reference_air};
  constexpr Slots all_low{Input::low_oxygen, Input::low_oxygen, Input::low_oxygen, Input::low_oxygen};
  visit(Input::signal, x.signal);
  each_condition({Input::temperature, Input::humidity, Input::humidity_temperature, Input::pressure}, x.gas, visit);
  visit(Input::zero, x.calibration.zero);
  const auto point = [&](CalibrationPoint& p, Input signal, Input oxygen, const Slots& slots) {
    visit(signal, p.signal);
    visit(oxygen, p.oxygen);
    each_condition(slots, p.gas, visit);
    if (p.reference_air) each_condition(all_reference, *p.reference_air, visit);
  };
  point(x.calibration.span, Input::cal_signal, Input::cal_oxygen,
        {Input::cal_temperature, Input::cal_humidity, Input::cal_humidity_temperature, Input::cal_pressure});
  if (x.calibration.low) point(*x.calibration.low, Input::low_signal, Input::low_oxygen, all_low);
  if (!x.cell.nernst) return;
  visit(Input::furnace, x.cell.nernst->furnace);
  visit(Input::reference_air, x.cell.nernst->reference_oxygen);
  each_condition(all_reference, x.cell.nernst->reference_air, visit);
}

/// The errors of a signal, each in its own standard uncertainties.
struct SignalErrorsDrawn {
  double resolution = 0.0;
  double linearity = 0.0;
  double drift = 0.0;
};

/// The errors of the signal, as the cell makes them: the signal that a perfect cell would have given in the same gas,
/// when the real one was off by so much.
inline Signal without_errors(const Inputs& x, const SignalErrorsDrawn& by_u) {
  const double signal_V = x.signal.value.si();
  const double span_V = x.calibration.span.signal.value.si();
  double departure_V = signal_V - span_V;
  if (!x.cell.nernst || x.calibration.low) {
    const double other_V = x.calibration.low ? x.calibration.low->signal.value.si() : x.calibration.zero.value.si();
    const double to_other = (signal_V - other_V) / (span_V - other_V);
    const double to_span = (span_V - signal_V) / (span_V - other_V);
    departure_V = 4.0 * to_other * to_span * (span_V - other_V);
  }
  const double right_V = signal_V - by_u.resolution * x.errors.resolution_V / 2.0 / std::sqrt(3.0) -
                         by_u.linearity * x.errors.linearity * departure_V;
  const double zero_V = characterise(x.cell, x.calibration).value().zero.value.si();
  return Signal::from_si(zero_V + (right_V - zero_V) / (1.0 + by_u.drift * x.errors.drift));
}

/// How a result moves with one input, times that input's u.
struct Slope {
  Input slot;
  double times_u = 0.0;
};

/// The slopes by every input, by central differences. `result` maps Inputs to a number.
template <class Result> std::vector<Slope> numeric_slopes(const Inputs& inputs, Result result) {
  constexpr double part = 1e-2; // of u: small beside the curvature, large beside the rounding
  std::vector<Slope> all;
  Inputs counted = inputs;
  int count = 0;
  each_input(counted, [&](Input, auto&) { ++count; });
  for (int chosen = 0; chosen < count; ++chosen) {
    Slope slope{};
    for (const double sign : {1.0, -1.0}) {
      Inputs moved = inputs;
      int i = 0;
      each_input(moved, [&]<class Q>(Input slot, Uncertain<Q>& input) {
        if (i++ != chosen) return;
        slope.slot = slot;
        input.value = Q::from_si(input.value.si() + sign * part * input.u_si);
      });
      slope.times_u += sign * result(moved) / (2.0 * part);
    }
    all.push_back(slope);
  }
  const SignalErrors& errors = inputs.errors;
  if (errors.resolution_V == 0.0 && errors.linearity == 0.0 && errors.drift == 0.0) return all;
  const auto add = [&](Input slot, const SignalErrorsDrawn& up, const SignalErrorsDrawn& down) {
    Inputs above = inputs;
    Inputs below = inputs;
    above.signal.value = without_errors(inputs, up);
    below.signal.value = without_errors(inputs, down);
    all.push_back({slot, (result(above) - result(below)) / (2.0 * part)});
  };
  add(Input::resolution, {.resolution = part}, {.resolution = -part});
  add(Input::linearity, {.linearity = part}, {.linearity = -part});
  add(Input::drift, {.drift = part}, {.drift = -part});
  return all;
}

/// |c| u of every input, root-sum-squared within a slot.
template <class Result> std::array<double, input_count> numeric_budget(const Inputs& inputs, Result result) {
  std::array<double, input_count> squares{};
  for (const Slope& slope : numeric_slopes(inputs, result))
    squares[static_cast<std::size_t>(slope.slot)] += slope.times_u * slope.times_u;
  for (double& value : squares) value = std::sqrt(value);
  return squares;
}

inline double combined_numeric(const std::array<double, input_count>& budget) {
  double sum = 0.0;
  for (const double value : budget) sum += value * value;
  return std::sqrt(sum);
}

inline GasConditions uncertain_gas(double t_C, double h, double p_Pa) {
  return {.temperature = {celsius(t_C), 0.3},
          .humidity = {RelativeHumidity::from_si(h), 0.02},
          .humidity_temperature = {},
          .pressure = {pascals(p_Pa), 120.0}};
}

/// One cell of each model in several arrangements: shared and separate thermometers, one and two points, reference air
/// that is shared or that changed since. Every input has an uncertainty.
inline std::vector<Inputs> arrangements() {
  std::vector<Inputs> all;
  for (const auto model : {CellModel::concentration, CellModel::partial_pressure, CellModel::mole_fraction}) {
    Inputs x{.cell = {.model = model, .response = {celsius(20.0), {0.0025, -1e-5}}, .nernst = {}},
             .calibration = {.span = {.signal = {millivolts(12.6), 2e-5},
                                      .oxygen = {DryFraction::from_si(0.20946), 6e-5},
                                      .gas = uncertain_gas(21.0, 0.45, 99800.0),
                                      .reference_air = {}},
                             .zero = {millivolts(0.4), 5e-5},
                             .low = {}},
             .signal = {millivolts(9.3), 2e-5},
             .gas = uncertain_gas(31.0, 0.82, 93870.0),
             .errors = {.resolution_V = 1e-5, .linearity = 0.004, .drift = 0.01}};
    all.push_back(x);
    x.gas.humidity_temperature = Uncertain<Temperature>{celsius(33.0), 0.2};
    x.calibration.span.gas.humidity_temperature = Uncertain<Temperature>{celsius(19.0), 0.4};
    all.push_back(x);
    x.calibration.low = CalibrationPoint{.signal = {millivolts(1.5), 1e-5},
                                         .oxygen = {DryFraction::from_si(0.02), 1e-4},
                                         .gas = uncertain_gas(25.0, 0.3, 101000.0),
                                         .reference_air = {}};
    all.push_back(x);
    x.calibration.low->gas.humidity_temperature = Uncertain<Temperature>{celsius(26.0), 0.4};
    all.push_back(x);
  }
  const GasConditions outdoors = uncertain_gas(15.0, 0.7, 100500.0);
  Inputs x{.cell = {.model = CellModel::nernst,
                    .response = {},
                    .nernst = NernstCell{.furnace = {celsius(700.0), 3.0},
                                         .reference_air = uncertain_gas(23.0, 0.5, 101325.0),
                                         .reference_oxygen = {DryFraction::from_si(0.2094), 8e-5}}},
           .calibration = {.span = {.signal = {millivolts(0.6), 1e-5},
                                    .oxygen = {DryFraction::from_si(0.20946), 6e-5},
                                    .gas = uncertain_gas(21.0, 0.45, 99800.0),
                                    .reference_air = {}},
                           .zero = {millivolts(0.4), 5e-5},
                           .low = {}},
           .signal = {millivolts(35.0), 2e-5},
           .gas = uncertain_gas(28.0, 0.8, 96000.0),
           .errors = {.resolution_V = 1e-5, .linearity = 0.004, .drift = 0.01}};
  all.push_back(x);
  x.calibration.span.reference_air = outdoors;
  all.push_back(x);
  x.calibration.low = CalibrationPoint{.signal = {millivolts(47.0), 1e-5},
                                       .oxygen = {DryFraction::from_si(0.02), 1e-4},
                                       .gas = uncertain_gas(25.0, 0.3, 101000.0),
                                       .reference_air = {}};
  all.push_back(x);
  x.calibration.low->reference_air = uncertain_gas(10.0, 0.6, 98000.0);
  x.calibration.low->reference_air->humidity_temperature = Uncertain<Temperature>{celsius(12.0), 0.5};
  all.push_back(x);
  x.calibration.span.reference_air.reset();
  x.calibration.low->reference_air.reset();
  all.push_back(x);
  return all;
}

} // namespace oxherd::compensation::differences
