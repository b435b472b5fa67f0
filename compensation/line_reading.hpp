#pragma once

#include <tl/expected.hpp>

#include "compensation/calibration_line.hpp"

namespace oxherd::compensation {

/// The air on the reference side of a Nernst cell now; null for the other models.
[[nodiscard]] const GasConditions* reference_air_now(const Cell& cell);

/// One reading by a line that was computed before: what read_oxygen and PreparedCell share, so that they cannot differ.
/// @param line  line_of this cell and this calibration
/// @param gas   the conditions of the sample
/// @param at    the same, resolved for this cell
[[nodiscard]] tl::expected<OxygenReading, ReadingError>
read_on_line(const CalibrationLine& line, const Cell& cell, const Calibration& calibration, Uncertain<Signal> signal,
             const GasConditions& gas, const Surroundings& at, const SignalErrors& errors);

} // namespace oxherd::compensation
