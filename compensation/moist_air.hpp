#pragma once

#include <tl/expected.hpp>

#include "compensation/errors.hpp"
#include "compensation/quantity.hpp"

namespace oxherd::compensation {

/// Saturation pressure of water vapour over liquid water, the pure phase.
/// @param t  273.15 K to 647.096 K by the standard; extrapolated down to 233.15 K for humidity over supercooled water,
///           where it stays within rel 2.4e-3 of Murphy and Koop 2005
/// @return   absolute pressure; RangeError outside 233.15 K to 647.096 K and for NaN
/// @source   IAPWS R7-97(2012), section 8.1, equation (30)
/// @checked  tests/compensation/moist_air_test.cpp, table 35 of the same
[[nodiscard]] tl::expected<Pressure, RangeError> saturation_pressure_over_water(Temperature t);

/// Saturation temperature over liquid water, the inverse of the above.
/// @source   IAPWS R7-97(2012), equation (31); checked against its table 36
[[nodiscard]] tl::expected<Temperature, RangeError> saturation_temperature_over_water(Pressure p);

/// Sublimation pressure of ice Ih, 50 K to 273.16 K.
/// @source   IAPWS R14-08(2011), equation (6); checked against its table 3
[[nodiscard]] tl::expected<Pressure, RangeError> sublimation_pressure_over_ice(Temperature t);

/// Enhancement factor of water vapour in air.
/// @param p  30 kPa to 120 kPa; the source states 60 kPa to 110 kPa and 15 °C to 27 °C, beyond that it is an
///           extrapolation whose effect on a dry fraction stays below rel 1e-4
/// @source   CIPM-2007, Metrologia 45 (2008) 149, appendix A.1
[[nodiscard]] double enhancement_factor(Pressure p, Temperature t);

/// Vapour pressure actually present: enhancement factor times relative humidity times saturation over liquid water,
/// both at the temperature of the humidity probe.
[[nodiscard]] tl::expected<Pressure, RangeError> vapour_pressure(RelativeHumidity h, Temperature probe, Pressure p);

/// Temperature at which vapour of this pressure (pure phase, no enhancement) would condense on liquid water.
[[nodiscard]] tl::expected<Temperature, RangeError> dew_point(Pressure vapour);

/// Relative humidity over ice that equals this relative humidity over (supercooled) water; t at most 273.16 K.
[[nodiscard]] tl::expected<double, RangeError> humidity_over_ice(RelativeHumidity over_water, Temperature t);

} // namespace oxherd::compensation
