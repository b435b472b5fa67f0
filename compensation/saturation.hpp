#pragma once

#include "compensation/constants.hpp"
#include "compensation/lanes.hpp"

namespace oxherd::compensation {

/// Where the saturation equation is used: extrapolated below 273.15 K for humidity over supercooled water, to -40 °C.
/// The nanokelvin lets through what the conversion of "-40 °C" or "-40 °F" rounds to.
inline constexpr double saturation_low_K = 233.15 - 1e-9;
inline constexpr double saturation_high_K = 647.096;

/// A function's value and its derivative.
template <class Real> struct SlopedOf {
  Real value{};
  Real slope{};
};
using Sloped = SlopedOf<double>;

/// Coefficients n[1]..n[10] of the saturation line, numbered as printed.
/// @source IAPWS R7-97(2012), table 34
inline constexpr double saturation_n[] = {0.0, // unused, so that the numbers are those of the table
                                          0.11670521452767e4,
                                          -0.72421316703206e6,
                                          -0.17073846940092e2,
                                          0.12020824702470e5,
                                          -0.32325550322333e7,
                                          0.14915108613530e2,
                                          -0.48232657361591e4,
                                          0.40511340542057e6,
                                          -0.23855557567849,
                                          0.65017534844798e3};

/// Saturation pressure over liquid water and its derivative by temperature, in Pa and Pa/K; the span is not checked.
/// The pressure's fourth root y solves a y^2 + b y + c = 0, so its derivative needs no second root.
/// @source  IAPWS R7-97(2012), equations (29) and (30)
/// @checked tests/compensation/moist_air_test.cpp
template <class Real> [[nodiscard]] inline SlopedOf<Real> saturation_SI(Real t_K) {
  const auto& n = saturation_n;
  const Real shift = 1.0 / (t_K - n[10]);
  const Real theta = t_K + n[9] * shift;
  const Real a = (theta + n[1]) * theta + n[2];
  const Real b = (n[3] * theta + n[4]) * theta + n[5];
  const Real c = (n[6] * theta + n[7]) * theta + n[8];
  const Real root = 2.0 * c / (-b + square_root(b * b - 4.0 * a * c));
  const Real da = 2.0 * theta + n[1];
  const Real db = 2.0 * n[3] * theta + n[4];
  const Real dc = 2.0 * n[6] * theta + n[7];
  const Real droot = -((da * root + db) * root + dc) / (2.0 * a * root + b);
  const Real dtheta = 1.0 - n[9] * shift * shift;
  const Real cube = root * root * root;
  return {cube * root * 1e6, 4.0 * cube * droot * dtheta * 1e6}; // the source gives megapascals
}

/// Coefficients of the enhancement factor 1.00062 + 3.14e-8 p + 5.6e-7 t^2, p in Pa, t in °C.
/// @source CIPM-2007, Metrologia 45 (2008) 149, appendix A.1
inline constexpr double enhancement_alpha = 1.00062;
inline constexpr double enhancement_beta = 3.14e-8;
inline constexpr double enhancement_gamma = 5.6e-7;

/// The enhancement factor in bare SI units.
template <class Real> [[nodiscard]] inline Real enhancement_SI(Real p_Pa, Real t_K) {
  const Real t_C = t_K - ice_point;
  return enhancement_alpha + enhancement_beta * p_Pa + enhancement_gamma * t_C * t_C;
}

} // namespace oxherd::compensation
