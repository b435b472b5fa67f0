#include <array>
#include <cmath>

#include <benchmark/benchmark.h>

#include "compensation/moist_air.hpp"
#include "compensation/oxygen_reading.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::bench {

namespace {

/// Temperatures in kelvin over the span of use.
std::array<double, 64> grid() {
  std::array<double, 64> t_K{};
  for (std::size_t i = 0; i < t_K.size(); ++i) t_K[i] = 253.15 + static_cast<double>(i);
  return t_K;
}

void saturation_pressure(benchmark::State& state) {
  const auto temperatures = grid();
  for (auto _ : state)
    for (const double t_K : temperatures) benchmark::DoNotOptimize(saturation_pressure_over_water(kelvins(t_K)));
  state.SetItemsProcessed(state.iterations() * std::ssize(temperatures));
}
BENCHMARK(saturation_pressure);

/// The peer: the Magnus equation with the coefficients of WMO-No. 8, annex 4.B, over the same grid.
void magnus_equation(benchmark::State& state) {
  const auto temperatures = grid();
  for (auto _ : state)
    for (const double t_K : temperatures) {
      const double t_C = t_K - 273.15;
      benchmark::DoNotOptimize(611.2 * std::exp(17.62 * t_C / (243.12 + t_C)));
    }
  state.SetItemsProcessed(state.iterations() * std::ssize(temperatures));
}
BENCHMARK(magnus_equation);

/// One whole reading: checks, calibration, all outputs and their uncertainties.
void read_oxygen_with_uncertainty(benchmark::State& state, CellModel model) {
  examples::Propagated inputs;
  inputs.cell.model = model;
  if (model == CellModel::nernst) {
    inputs.cell.nernst = NernstCell{};
    inputs.cell.nernst->reference_air = inputs.calibration.span.gas;
  }
  double signal_mV = 0.0;
  for (auto _ : state) {
    signal_mV = signal_mV > 12.0 ? 9.0 : signal_mV + 0.001; // the compiler must not see one and the same reading
    inputs.signal.value = millivolts(signal_mV);
    benchmark::DoNotOptimize(read_oxygen(inputs.cell, inputs.calibration, inputs.signal, inputs.gas));
  }
  state.SetItemsProcessed(state.iterations());
}
BENCHMARK_CAPTURE(read_oxygen_with_uncertainty, concentration, CellModel::concentration);
BENCHMARK_CAPTURE(read_oxygen_with_uncertainty, partial_pressure, CellModel::partial_pressure);
BENCHMARK_CAPTURE(read_oxygen_with_uncertainty, mole_fraction, CellModel::mole_fraction);
BENCHMARK_CAPTURE(read_oxygen_with_uncertainty, nernst, CellModel::nernst);

} // namespace

} // namespace oxherd::compensation::bench
