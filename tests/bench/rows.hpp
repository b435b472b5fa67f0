#pragma once

#include <cmath>
#include <cstddef>
#include <vector>

#include "compensation/batch.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::bench {

/// Inputs of many readings, one column each.
struct Rows {
  std::vector<double> signal_V, temperature_K, humidity, pressure_Pa;
};

inline BatchColumns columns(const Rows& rows) {
  return {.signal_V = rows.signal_V,
          .temperature_K = rows.temperature_K,
          .humidity = rows.humidity,
          .pressure_Pa = rows.pressure_Pa};
}

/// Rows that differ from each other in every input, without a generator of random numbers: multiples of irrational
/// numbers, modulo 1, are spread evenly.
inline Rows many_rows(std::size_t count) {
  Rows rows;
  const auto spread = [](std::size_t i, double step) {
    const double x = static_cast<double>(i) * step;
    return x - std::floor(x);
  };
  for (std::size_t i = 0; i < count; ++i) {
    rows.signal_V.push_back(8e-3 + 6e-3 * spread(i, std::sqrt(2.0)));
    rows.temperature_K.push_back(263.15 + 45.0 * spread(i, std::sqrt(3.0)));
    rows.humidity.push_back(spread(i, std::sqrt(5.0)));
    rows.pressure_Pa.push_back(80e3 + 25e3 * spread(i, std::sqrt(7.0)));
  }
  return rows;
}

/// The cell of the worked example, or one of another model with the same calibration.
inline PreparedCell prepared(CellModel model) {
  examples::Propagated inputs;
  inputs.cell.model = model;
  if (model == CellModel::nernst) {
    inputs.cell.nernst = NernstCell{};
    inputs.cell.nernst->reference_air = inputs.calibration.span.gas;
  }
  return PreparedCell::from(inputs.cell, inputs.calibration).value();
}

} // namespace oxherd::compensation::bench
