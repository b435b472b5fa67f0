#pragma once

#include <array>
#include <cmath>
#include <cstddef>
#include <cstdint>
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

/// The standard uncertainties of every row.
struct Spread {
  explicit Spread(const Rows& rows) {
    const std::size_t count = rows.signal_V.size();
    signal_V.assign(count, 2e-5);
    temperature_K.assign(count, 0.3);
    humidity.assign(count, 0.03);
    pressure_Pa.assign(count, 50.0);
  }
  std::vector<double> signal_V, temperature_K, humidity, pressure_Pa;
};

inline UncertainColumns columns(const Rows& rows, const Spread& u) {
  return {.signal_V = {rows.signal_V, u.signal_V},
          .temperature_K = {rows.temperature_K, u.temperature_K},
          .humidity = {rows.humidity, u.humidity},
          .probe_K = {},
          .pressure_Pa = {rows.pressure_Pa, u.pressure_Pa}};
}

/// Room for all readings of a batch.
struct Readings {
  explicit Readings(std::size_t rows) : valid(rows) { values.fill(std::vector<double>(rows)); }
  [[nodiscard]] ReadingColumns view() {
    auto& v = values;
    return {v[0], v[1], v[2], v[3], v[4], v[5], v[6], v[7], valid};
  }
  std::array<std::vector<double>, 8> values; ///< in the order of ReadingColumns: dry, u_dry, ...
  std::vector<std::uint8_t> valid;
};

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
