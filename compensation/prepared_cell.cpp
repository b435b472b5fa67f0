#include "compensation/prepared_cell.hpp"

#include <utility>

#include "compensation/line_reading.hpp"

namespace oxherd::compensation {

PreparedCell::PreparedCell(Cell cell, const Calibration& calibration, const CalibrationLine& line,
                           const Surroundings& span_gas_now)
    : cell_{std::move(cell)}, calibration_{calibration}, line_{line}, span_gas_now_{span_gas_now} {}

tl::expected<PreparedCell, ReadingError> PreparedCell::from(Cell cell, const Calibration& calibration) {
  const auto line = line_of(cell, calibration);
  if (!line) return tl::unexpected(line.error());
  const auto now = resolve_at_cell(cell, calibration.span.gas, reference_air_now(cell), "calibration");
  if (!now) return tl::unexpected(now.error());
  return PreparedCell{std::move(cell), calibration, *line, *now};
}

tl::expected<OxygenReading, ReadingError> PreparedCell::read(Uncertain<Signal> signal, const GasConditions& gas,
                                                             const SignalErrors& errors) const {
  const auto at = resolve_beside(cell_, gas, span_gas_now_, "sample");
  if (!at) return tl::unexpected(at.error());
  return read_on_line(line_, cell_, calibration_, signal, gas, *at, errors);
}

} // namespace oxherd::compensation
