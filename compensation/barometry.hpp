#pragma once

#include <tl/expected.hpp>

#include "compensation/errors.hpp"
#include "compensation/quantity.hpp"

namespace oxherd::compensation {

/// Geopotential altitude of a geometric height: H = r Z / (r + Z), r = 6 356 766 m.
/// @source ISO 2533:1975 (by way of check-values recomputed independently)
[[nodiscard]] GeopotentialAltitude geopotential(Elevation z);

/// Pressure and temperature of the standard atmosphere, -2 km to 11 km of geopotential altitude.
/// @source ISO 2533:1975, troposphere: T = 288.15 K - 6.5 K/km H, p = 101325 Pa (T/288.15 K)^(g0/(R 0.0065))
[[nodiscard]] tl::expected<Pressure, RangeError> standard_pressure(GeopotentialAltitude h);
[[nodiscard]] tl::expected<Temperature, RangeError> standard_temperature(GeopotentialAltitude h);
[[nodiscard]] tl::expected<GeopotentialAltitude, RangeError> pressure_altitude(Pressure p);

/// Station pressure from a report reduced to sea level by the standard atmosphere (QNH), and its exact inverse.
/// @source ICAO Doc 7488 definition of QNH, exact form
[[nodiscard]] tl::expected<Pressure, RangeError> station_pressure(SeaLevelPressure qnh, GeopotentialAltitude h);
[[nodiscard]] tl::expected<SeaLevelPressure, RangeError> sea_level_pressure(Pressure station, GeopotentialAltitude h);

} // namespace oxherd::compensation
