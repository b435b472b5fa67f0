#include "compensation/batch.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "compensation/response.hpp"
#include "compensation/saturation.hpp"
#include "compensation/spans.hpp"

namespace oxherd::compensation {

namespace {

using cells::block_rows;
using cells::BlockColumn;

/// Below this nothing that a reading is made of overflows: an input beyond it is no measurement, but must not give NaN.
constexpr double surely_finite = 1e100;

struct Block {
  BlockColumn signal_V{};
  BlockColumn humidity{};
  cells::GasBlock gas;
  BlockColumn covered{}; ///< 1 where every input lies in its span, otherwise 0
  BlockColumn dry{};
};

/// Vapour, and whether the inputs are covered. No branches: a row outside computes nonsense that is not used.
void add_vapour(Block& block) {
  for (std::size_t i = 0; i < block_rows; ++i) {
    const double signal = block.signal_V[i];
    const double h = block.humidity[i];
    const double t = block.gas.t_K[i];
    const double p = block.gas.p_Pa[i];
    const double e = enhancement_SI(p, t) * h * saturation_SI(t).value;
    const bool inside = (signal >= signal_span.low) & (signal <= signal_span.high) & (t >= saturation_span.low) &
                        (t <= saturation_span.high) & (h >= humidity_span.low) & (h <= humidity_span.high) &
                        (p >= pressure_span.low) & (p <= pressure_span.high) & (e < p);
    block.gas.e_Pa[i] = e;
    block.covered[i] = inside ? 1.0 : 0.0;
  }
}

void add_response(Block& block, const TemperatureResponse& response) {
  block.gas.response.fill(1.0);
  if (response.coefficients.empty()) return;
  for (std::size_t i = 0; i < block_rows; ++i) {
    const double g = response_at(response, block.gas.t_K[i]).value;
    block.gas.response[i] = g;
    if (!is_response(g)) block.covered[i] = 0.0;
  }
}

void add_fractions(Block& block, const PreparedCell& cell) {
  const CalibrationLine& line = cell.line();
  for (std::size_t i = 0; i < block_rows; ++i) block.dry[i] = line.stimulus_of(block.signal_V[i]);
  if (line.law->fractions != nullptr) {
    line.law->fractions(block.dry, block.gas);
    return;
  }
  Surroundings at = cell.span_gas_now();
  for (std::size_t i = 0; i < block_rows; ++i) {
    at.t_K = block.gas.t_K[i];
    at.p_Pa = block.gas.p_Pa[i];
    at.vapour.e_Pa = block.gas.e_Pa[i];
    at.response = block.gas.response[i];
    block.dry[i] = line.law->fraction(block.dry[i], at);
  }
}

/// Whether a reading has this dry fraction. Beyond all bounds the reading itself is asked.
bool is_reading(const PreparedCell& cell, const Block& block, std::size_t i) {
  const double dry = block.dry[i];
  if (std::fabs(dry) < surely_finite && std::fabs(cell.line().stimulus_per_V) < surely_finite) [[likely]]
    return cell.line().law->uses_zero || dry > 0.0;
  return cell
      .read({Signal::from_si(block.signal_V[i]), 0.0}, {.temperature = {kelvins(block.gas.t_K[i]), 0.0},
                                                        .humidity = {RelativeHumidity::from_si(block.humidity[i]), 0.0},
                                                        .humidity_temperature = {},
                                                        .pressure = {pascals(block.gas.p_Pa[i]), 0.0}})
      .has_value();
}

} // namespace

std::size_t read_batch(const PreparedCell& cell, const BatchColumns& rows, std::span<double> dry,
                       std::span<std::uint8_t> valid) {
  const std::size_t count = rows.signal_V.size();
  assert(rows.temperature_K.size() == count);
  assert(rows.humidity.size() == count);
  assert(rows.pressure_Pa.size() == count);
  assert(dry.size() == count);
  assert(valid.size() == count);
  Block block;
  std::size_t good = 0;
  for (std::size_t first = 0; first < count; first += block_rows) {
    const std::size_t here = std::min(block_rows, count - first); // the rest of the last block keeps what it held
    const auto load = [&](std::span<const double> from, BlockColumn& to) {
      std::copy_n(from.begin() + static_cast<std::ptrdiff_t>(first), here, to.begin());
    };
    load(rows.signal_V, block.signal_V);
    load(rows.temperature_K, block.gas.t_K);
    load(rows.humidity, block.humidity);
    load(rows.pressure_Pa, block.gas.p_Pa);
    add_vapour(block);
    add_response(block, cell.cell().response);
    add_fractions(block, cell);
    for (std::size_t i = 0; i < here; ++i) {
      const bool is_good = block.covered[i] != 0.0 && is_reading(cell, block, i);
      dry[first + i] = is_good ? block.dry[i] : 0.0;
      valid[first + i] = is_good ? 1 : 0;
      good += is_good ? 1 : 0;
    }
  }
  return good;
}

} // namespace oxherd::compensation
