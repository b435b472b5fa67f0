#pragma once

#include <cmath>
#include <optional>

namespace oxherd::daemon {

/// A value in another unit than SI, for whoever reads it. Takes away what the conversion added (56.99999999999999 for
/// 57 %RH): a billionth of a degree, kilopascal or millivolt is far below anything measured here, and so is what
/// rounding to it changes.
[[nodiscard]] inline std::optional<double> scaled(std::optional<double> si, double factor, double offset = 0.0) {
  if (!si) return std::nullopt;
  const double value = *si * factor + offset;
  const bool fits = std::abs(value) < 1e6; // false for NaN: it stays as it is
  return fits ? std::round(value * 1e9) / 1e9 : value;
}

[[nodiscard]] inline std::optional<double> in_celsius(std::optional<double> t_K) { return scaled(t_K, 1.0, -273.15); }

} // namespace oxherd::daemon
