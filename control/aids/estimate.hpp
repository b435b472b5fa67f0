#pragma once

namespace oxherd::control {

/// A number with its standard uncertainty, both in the unit that the name says.
struct Estimate {
  double value = 0.0;
  double u = 0.0;
  [[nodiscard]] constexpr double expanded() const { return 2.0 * u; } ///< k = 2: about 95 % where it is normal
};

/// A closed interval, in the unit that the name says.
struct Span {
  double low = 0.0;
  double high = 0.0;
  [[nodiscard]] constexpr bool covers(double value) const { return value >= low && value <= high; } // false for NaN
};

inline constexpr double normal_975 = 1.959963984540054; ///< two-sided 95 %
inline constexpr double normal_990 = 2.326347874040841; ///< one-sided 99 %

/// Two-sided 95 % quantile of Student's t.
/// @param degrees_of_freedom at least 4, where the series is right to 0.004; its error falls quickly with more
/// @source Abramowitz and Stegun 26.7.5, from memory
/// @checked tests/control/aids/curve_fit_test.cpp: GUM (JCGM 100:2008) table G.2
[[nodiscard]] double student_975(int degrees_of_freedom);

/// What the sum of squared, scaled residuals exceeds in one of twenty cases when only noise is left in them.
/// Right to half a percent from 4 degrees of freedom on.
/// @source Wilson and Hilferty's cube root, from memory
/// @checked tests/control/aids/curve_fit_test.cpp: NIST/SEMATECH handbook, table of chi-square
[[nodiscard]] double chi_squared_950(int degrees_of_freedom);

} // namespace oxherd::control
