#include "compensation/batch.hpp"

#include <cassert>
#include <cmath>

#include "compensation/response.hpp"
#include "compensation/saturation.hpp"
#include "compensation/spans.hpp"

namespace oxherd::compensation {

namespace {

/// Below this nothing that a reading is made of overflows: an input beyond it is no measurement, but must not give NaN.
constexpr double surely_finite = 1e100;

/// Whether a reading has this dry fraction. Beyond all bounds the reading itself is asked.
bool is_reading(const PreparedCell& cell, double dry, double signal_V, double h, const Surroundings& at) {
  if (std::fabs(dry) < surely_finite && std::fabs(cell.line().stimulus_per_V) < surely_finite) [[likely]]
    return cell.line().law->uses_zero || dry > 0.0;
  return cell
      .read({Signal::from_si(signal_V), 0.0}, {.temperature = {kelvins(at.t_K), 0.0},
                                               .humidity = {RelativeHumidity::from_si(h), 0.0},
                                               .humidity_temperature = {},
                                               .pressure = {pascals(at.p_Pa), 0.0}})
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
  const CalibrationLine& line = cell.line();
  const TemperatureResponse& response = cell.cell().response;
  const bool responds = !response.coefficients.empty();
  const auto fraction = line.law->fraction;
  Surroundings at = cell.span_gas_now();
  std::size_t good = 0;
  for (std::size_t i = 0; i < count; ++i) {
    const double signal_V = rows.signal_V[i];
    const double h = rows.humidity[i];
    at.t_K = rows.temperature_K[i];
    at.p_Pa = rows.pressure_Pa[i];
    at.vapour.e_Pa = enhancement_SI(at.p_Pa, at.t_K) * h * saturation_SI(at.t_K).value;
    if (responds) at.response = response_at(response, at.t_K).value;
    const bool covered = signal_span.covers(signal_V) && saturation_span.covers(at.t_K) && humidity_span.covers(h) &&
                         pressure_span.covers(at.p_Pa) && at.vapour.e_Pa < at.p_Pa && is_response(at.response);
    const double value = covered ? fraction(line.stimulus_of(signal_V), at) : 0.0;
    const bool is_good = covered && is_reading(cell, value, signal_V, h, at);
    dry[i] = is_good ? value : 0.0;
    valid[i] = is_good ? 1 : 0;
    good += valid[i];
  }
  return good;
}

} // namespace oxherd::compensation
