#include <cstdint>
#include <vector>

#include <benchmark/benchmark.h>

#include "compensation/batch.hpp"
#include "tests/bench/rows.hpp"

namespace oxherd::compensation::bench {

namespace {

/// Dry fractions of recorded rows, as a history or a simulation wants them.
void batch_without_uncertainty(benchmark::State& state, CellModel model) {
  const Rows rows = many_rows(65536);
  const PreparedCell cell = prepared(model);
  std::vector<double> dry(rows.signal_V.size());
  std::vector<std::uint8_t> valid(rows.signal_V.size());
  for (auto _ : state) {
    if (read_batch(cell, columns(rows), dry, valid) != dry.size()) state.SkipWithError("a row was refused");
    benchmark::DoNotOptimize(dry.data());
    benchmark::ClobberMemory();
  }
  state.SetItemsProcessed(state.iterations() * std::ssize(dry));
}
BENCHMARK_CAPTURE(batch_without_uncertainty, concentration, CellModel::concentration);
BENCHMARK_CAPTURE(batch_without_uncertainty, partial_pressure, CellModel::partial_pressure);
BENCHMARK_CAPTURE(batch_without_uncertainty, mole_fraction, CellModel::mole_fraction);
BENCHMARK_CAPTURE(batch_without_uncertainty, nernst, CellModel::nernst);

/// The same rows with the standard uncertainty of each, in blocks as the correction of a logger file has them.
void batch_with_uncertainty(benchmark::State& state, CellModel model) {
  const Rows rows = many_rows(256);
  const PreparedCell cell = prepared(model);
  const SignalErrors errors{.resolution_V = 1e-5, .linearity = 0.004, .drift = 0.01};
  const Spread u{rows};
  Readings to{rows.signal_V.size()};
  for (auto _ : state) {
    if (read_batch(cell, columns(rows, u), errors, to.view()) != rows.signal_V.size())
      state.SkipWithError("a row was refused");
    benchmark::ClobberMemory();
  }
  state.SetItemsProcessed(state.iterations() * std::ssize(rows.signal_V));
}
BENCHMARK_CAPTURE(batch_with_uncertainty, concentration, CellModel::concentration);
BENCHMARK_CAPTURE(batch_with_uncertainty, partial_pressure, CellModel::partial_pressure);
BENCHMARK_CAPTURE(batch_with_uncertainty, mole_fraction, CellModel::mole_fraction);
BENCHMARK_CAPTURE(batch_with_uncertainty, nernst, CellModel::nernst);

/// The same rows, each a whole reading: all outputs and the complete budget.
void prepared_with_uncertainty(benchmark::State& state, CellModel model) {
  const Rows rows = many_rows(4096);
  const PreparedCell cell = prepared(model);
  const SignalErrors errors{.resolution_V = 1e-5, .linearity = 0.004, .drift = 0.01};
  std::size_t i = 0;
  for (auto _ : state) {
    const GasConditions gas{.temperature = {kelvins(rows.temperature_K[i]), 0.3},
                            .humidity = {RelativeHumidity::from_si(rows.humidity[i]), 0.03},
                            .humidity_temperature = {},
                            .pressure = {pascals(rows.pressure_Pa[i]), 50.0}};
    benchmark::DoNotOptimize(cell.read({Signal::from_si(rows.signal_V[i]), 2e-5}, gas, errors));
    i = (i + 1) % rows.signal_V.size();
  }
  state.SetItemsProcessed(state.iterations());
}
BENCHMARK_CAPTURE(prepared_with_uncertainty, concentration, CellModel::concentration);
BENCHMARK_CAPTURE(prepared_with_uncertainty, partial_pressure, CellModel::partial_pressure);
BENCHMARK_CAPTURE(prepared_with_uncertainty, mole_fraction, CellModel::mole_fraction);
BENCHMARK_CAPTURE(prepared_with_uncertainty, nernst, CellModel::nernst);

} // namespace

} // namespace oxherd::compensation::bench
