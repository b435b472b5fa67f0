#pragma once

#include <span>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

namespace oxherd::compensation {

/// What a typed quantity may be. `ratio` covers mole fractions (%, ppm, fraction); `humidity` is relative humidity.
/// `temperature_difference` is for uncertainties and deadbands: 0.3 °C of it is 0.3 K, not 273.45 K.
enum class Dimension {
  voltage,
  pressure,
  temperature,
  temperature_difference,
  ratio,
  humidity,
  length,
  duration,
  frequency,
  power,
  volume,
  volume_flow,
  number
};

/// The name a person would use ("pressure", "fraction"), and one example to copy ("99.8 kPa").
[[nodiscard]] std::string_view name_of(Dimension dimension);
[[nodiscard]] std::string_view example_of(Dimension dimension);

/// A unit as an affine map to SI: si = value * scale + offset.
struct Unit {
  std::string_view symbol;
  Dimension dimension;
  double scale = 1.0;
  double offset = 0.0;
};

/// Why a typed quantity was refused, in words for the person who typed it.
struct UnitProblem {
  std::string message; ///< e.g. `"19.5 kPa" is a pressure; write a fraction such as "19.5 %"`
};

/// Converts a value in this unit to SI, and back. Decimal units divide where that rounds once: 19.5 % is exactly 0.195.
[[nodiscard]] double to_si(const Unit& unit, double value);
[[nodiscard]] double from_si(const Unit& unit, double si);

/// Every unit that is understood for a dimension, the preferred one first.
[[nodiscard]] std::span<const Unit> units_of(Dimension dimension);

/// The unit of that spelling: °C/C/degC/°F/F/degF/K; kPa/hPa/Pa/mbar/bar/mmHg/Torr/inHg/psi/atm; m/ft/km;
/// %, fraction, ratio, 1, /, ppm, ppmv; %RH, % (and the plain ratios); mV/V/uV/µV; s/ms/min/h/d; Hz/kHz/MHz; W/mW/kW;
/// m3/l/ft3; m3/h, m3/s, l/min, ft3/min. Letter case counts (mV is not MV); a spelling that differs only in case is
/// refused with the right one.
[[nodiscard]] tl::expected<Unit, UnitProblem> find_unit(std::string_view symbol, Dimension dimension);

/// Reads "12.6 mV", "12.6mV", "54F", "-5 °C", "88%" into SI. The number is finite and in C locale, so a decimal comma
/// is refused; a unit is required (a bare number is refused with the example, except for `number`). A temperature below
/// absolute zero is refused; no other value is judged here.
/// @checked tests/compensation/units_test.cpp and, with random bytes, tests/fuzz/quantity_fuzz.cpp
[[nodiscard]] tl::expected<double, UnitProblem> parse_quantity(std::string_view text, Dimension dimension);

} // namespace oxherd::compensation
