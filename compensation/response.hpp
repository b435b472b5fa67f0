#pragma once

#include <cmath>

#include "compensation/cell.hpp"
#include "compensation/saturation.hpp"

namespace oxherd::compensation {

/// The temperature response g(t) of a cell and its slope, by Horner's rule; g = 1 where the cell has none.
template <class Real> [[nodiscard]] inline SlopedOf<Real> response_at(const TemperatureResponse& response, Real t_K) {
  const Real dt = t_K - response.reference.si();
  SlopedOf<Real> g{};
  for (auto a = response.coefficients.rbegin(); a != response.coefficients.rend(); ++a) {
    g.slope = g.slope * dt + g.value;
    g.value = g.value * dt + *a;
  }
  return {1.0 + g.value * dt, g.value + g.slope * dt};
}

/// Whether a response can be divided by; false for NaN.
[[nodiscard]] inline bool is_response(double g) { return g > 0.0 && std::isfinite(g); }

} // namespace oxherd::compensation
