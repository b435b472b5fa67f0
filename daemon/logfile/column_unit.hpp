#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "compensation/units.hpp"

namespace oxherd::daemon::logfile {

/// The units that a person may have meant by this spelling, whatever its letter case: of voltage, temperature,
/// humidity, pressure or fraction, one for each dimension that has it. "%" is both a humidity and a fraction.
[[nodiscard]] std::vector<compensation::Unit> units_in(std::string_view spelling);

/// The units that a column's name carries: in brackets, or as its last word ("qnh_hPa", "O2 [mV]", "T °C").
[[nodiscard]] std::vector<compensation::Unit> units_in_name(std::string_view name);

/// Small letters for A to Z; other bytes stay.
[[nodiscard]] std::string lower_case(std::string_view text);

} // namespace oxherd::daemon::logfile
