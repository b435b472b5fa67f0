#pragma once

#include <string>
#include <string_view>

#include "daemon/calibration/record.hpp"

namespace oxherd::daemon {

[[nodiscard]] std::string day_text(WallTime t);                 ///< "2026-03-01", UTC
[[nodiscard]] std::string_view words_for(GasKind gas);          ///< "fresh air", "nitrogen", "span gas"
[[nodiscard]] std::string percent_text(double ratio);           ///< without trailing zeros: "20.946", "0.001"
[[nodiscard]] std::string name_of_gas(const ReferenceGas& gas); ///< "span gas (cylinder C-118)", "fresh air"

/// What to tell the person when the store could not keep a record: that it is not there, and what holds all the same.
/// @param why  what the store said
[[nodiscard]] std::string not_recorded_text(const CalibrationRecord& record, std::string_view why);

} // namespace oxherd::daemon
