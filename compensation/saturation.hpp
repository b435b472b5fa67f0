#pragma once

#include <cmath>

#include "compensation/constants.hpp"

namespace oxherd::compensation {

/// Where the saturation equation is used: extrapolated below 273.15 K for humidity over supercooled water, to -40 °C.
/// The nanokelvin lets through what the conversion of "-40 °C" or "-40 °F" rounds to.
inline constexpr double saturation_low_K = 233.15 - 1e-9;
inline constexpr double saturation_high_K = 647.096;

/// A function's value and its derivative.
struct Sloped {
  double value = 0.0;
  double slope = 0.0;
};

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
[[nodiscard]] inline Sloped saturation_SI(double t_K) {
  const auto& n = saturation_n;
  const double shift = 1.0 / (t_K - n[10]);
  const double theta = t_K + n[9] * shift;
  const double a = (theta + n[1]) * theta + n[2];
  const double b = (n[3] * theta + n[4]) * theta + n[5];
  const double c = (n[6] * theta + n[7]) * theta + n[8];
  const double root = 2.0 * c / (-b + std::sqrt(b * b - 4.0 * a * c));
  const double da = 2.0 * theta + n[1];
  const double db = 2.0 * n[3] * theta + n[4];
  const double dc = 2.0 * n[6] * theta + n[7];
  const double droot = -((da * root + db) * root + dc) / (2.0 * a * root + b);
  const double dtheta = 1.0 - n[9] * shift * shift;
  const double cube = root * root * root;
  return {cube * root * 1e6, 4.0 * cube * droot * dtheta * 1e6}; // the source gives megapascals
}

/// Coefficients of the enhancement factor 1.00062 + 3.14e-8 p + 5.6e-7 t^2, p in Pa, t in °C.
/// @source CIPM-2007, Metrologia 45 (2008) 149, appendix A.1
inline constexpr double enhancement_alpha = 1.00062;
inline constexpr double enhancement_beta = 3.14e-8;
inline constexpr double enhancement_gamma = 5.6e-7;

/// The enhancement factor in bare SI units.
[[nodiscard]] inline double enhancement_SI(double p_Pa, double t_K) {
  const double t_C = t_K - ice_point;
  return enhancement_alpha + enhancement_beta * p_Pa + enhancement_gamma * t_C * t_C;
}

} // namespace oxherd::compensation
