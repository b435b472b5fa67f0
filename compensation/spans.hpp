#pragma once

#include "compensation/errors.hpp"
#include "compensation/saturation.hpp"

namespace oxherd::compensation {

/// A closed span of SI values that an equation or an input covers.
struct Span {
  double low = 0.0;
  double high = 0.0;
  [[nodiscard]] constexpr bool covers(double value) const { return value >= low && value <= high; } // false for NaN
  [[nodiscard]] constexpr RangeError refuse(double value) const { return {value, low, high}; }
};

/// Temperatures of a gas and of a humidity probe: those the saturation equation covers.
inline constexpr Span saturation_span{saturation_low_K, saturation_high_K};
/// Relative humidity as a ratio. A probe in fog may indicate a little over saturation.
inline constexpr Span humidity_span{0.0, 1.05};
/// Absolute pressure around a cell: from the top of the standard troposphere to a vessel at twice the atmosphere.
inline constexpr Span pressure_span{20e3, 200e3};
/// Furnace of a zirconia cell: colder it does not conduct, hotter none is built (common practice).
inline constexpr Span furnace_span{573.15, 1973.15};
/// Voltage of a cell with its amplifier.
inline constexpr Span signal_span{-1e3, 1e3};
/// Oxygen of a span gas and of a low or zero gas, as ratios. A percentage that was typed as a ratio falls outside.
inline constexpr Span span_oxygen{1e-6, 1.0};
inline constexpr Span span_low_oxygen{0.0, 1.0};
/// Oxygen given to the forward model or reported by a transmitter: a little noise below zero is let through.
inline constexpr Span reported_oxygen{-0.05, 1.05};

} // namespace oxherd::compensation
