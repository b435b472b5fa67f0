#pragma once

#include <span>
#include <string>
#include <vector>

#include <tl/expected.hpp>

namespace oxherd::compensation {

/// A closed interval of plain numbers, in the unit of what it bounds.
struct Interval {
  double low = 0.0;
  double high = 0.0;
  [[nodiscard]] constexpr bool covers(double value) const { return value >= low && value <= high; } // false for NaN
};

/// One pair of values; x is taken as exact.
struct DataPair {
  double x = 0.0;
  double y = 0.0;
};

/// Why data do not allow a statement, in words: "2 points: a line with its uncertainty needs 3".
struct StatisticsError {
  std::string what;
};

/// A straight line fitted to pairs by least squares. Each u is a standard uncertainty from the scatter of the pairs.
struct LineFit {
  int count = 0;
  double mean_x = 0.0;
  double mean_y = 0.0;
  double spread_x = 0.0; ///< sum of (x - mean_x)^2
  double slope = 0.0;
  double intercept = 0.0;
  double u_slope = 0.0;
  double u_intercept = 0.0;
  double residual_sd = 0.0; ///< about the line, with count - 2 degrees of freedom
  double degrees_of_freedom = 0.0;

  [[nodiscard]] double at(double x) const { return mean_y + slope * (x - mean_x); }
  [[nodiscard]] double t_of_slope() const;     ///< slope / u_slope; infinite for a perfect line that is not level
  [[nodiscard]] double t_of_intercept() const; ///< likewise
};

/// Fits y = intercept + slope x. Sums are taken about the means, so a large common offset costs no digits.
/// @return StatisticsError for fewer than 3 pairs, a value that is not finite, x that are all equal, and sums beyond
///         what a double holds
/// @source Draper and Smith, Applied Regression Analysis, chapter 1 (from memory)
/// @checked tests/compensation/regression_test.cpp: NIST StRD Norris, certified values
[[nodiscard]] tl::expected<LineFit, StatisticsError> fit_line(std::span<const DataPair> pairs);

/// What the pairs leave over: y minus the line, in their order.
[[nodiscard]] std::vector<double> residuals(const LineFit& fit, std::span<const DataPair> pairs);

/// Autocorrelation coefficient of neighbours in a series: sum (v[i] - m)(v[i+1] - m) / sum (v[i] - m)^2. 0 for a
/// series without any variation.
/// @source NIST StRD univariate summary statistics, definition of the lag-1 autocorrelation coefficient
/// @checked tests/compensation/regression_test.cpp: NIST StRD Lottery and NumAcc2
[[nodiscard]] double lag1_autocorrelation(std::span<const double> values);

/// The fit with its uncertainties widened for residuals that follow each other (first-order autoregression). `count`
/// and `residual_sd` stay; the degrees of freedom become n' - 2 with n' = n (1 - r) / (1 + r), and the u of slope and
/// intercept grow by the root of the ratio of old to new ones.
/// r is the lag-1 coefficient of the residuals, corrected for what fitting a line takes from it: (n r + 2) / (n - 4).
/// A negative r narrows nothing.
/// @return StatisticsError when fewer than `effective_min` independent samples remain
/// @source Santer et al. 2000 (J. Geophys. Res. 105, 7337), equations (4) to (6); the bias of r by Tjostheim and
/// Paulsen
///         1983 (Biometrika 70, 389); both from memory, checked by simulation in
///         tests/daemon/calibration/stability_test.cpp
[[nodiscard]] tl::expected<LineFit, StatisticsError>
widened_for_memory(const LineFit& fit, std::span<const DataPair> pairs, double effective_min);

/// Which quantile of Student's t is wanted.
struct StudentQuantile {
  double probability = 0.975; ///< above 0, below 1
  double degrees_of_freedom = 1.0;
};
/// Quantile of Student's t distribution; 12.706 for 0.975 and one degree of freedom.
/// @return StatisticsError for a probability or degrees of freedom out of their span
/// @checked tests/compensation/regression_test.cpp: GUM (JCGM 100:2008) table G.2
[[nodiscard]] tl::expected<double, StatisticsError> student_quantile(StudentQuantile wanted);

/// Where on the line a band is wanted, and how sure it shall be.
struct BandAt {
  double x = 0.0;
  double level = 0.95; ///< two-sided
};
/// Two-sided interval of the slope.
[[nodiscard]] tl::expected<Interval, StatisticsError> slope_interval(const LineFit& fit, double level);
/// Where the true line runs at x.
[[nodiscard]] tl::expected<Interval, StatisticsError> confidence_band(const LineFit& fit, BandAt at);
/// Where one further observation at x will lie.
[[nodiscard]] tl::expected<Interval, StatisticsError> prediction_band(const LineFit& fit, BandAt at);

/// Which y the line shall reach.
struct Target {
  double y = 0.0; ///< exact: a limit, not an observation
  double level = 0.95;
};
/// The x where the line reaches y, with its interval.
struct Crossing {
  double x = 0.0;
  Interval interval;
};
/// Solves the line for x. The interval holds every x at which the confidence band covers y, so it is not symmetric.
/// @return StatisticsError when the slope is not significant at that level: the interval then has no end
/// @source Fieller 1954 (J. R. Stat. Soc. B 16, 175), from memory; derived anew from the confidence band
/// @checked tests/compensation/regression_test.cpp: the ends lie on the confidence band
[[nodiscard]] tl::expected<Crossing, StatisticsError> crossing(const LineFit& fit, Target target);

} // namespace oxherd::compensation
