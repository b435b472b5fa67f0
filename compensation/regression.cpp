#include "compensation/regression.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <boost/math/distributions/students_t.hpp>
#include <fmt/core.h>

namespace oxherd::compensation {
namespace {

tl::unexpected<StatisticsError> no_statement(std::string what) {
  return tl::unexpected(StatisticsError{std::move(what)});
}

double t_statistic(double estimate, double u) {
  if (u > 0.0) return estimate / u;
  return estimate == 0.0 ? 0.0 : std::copysign(std::numeric_limits<double>::infinity(), estimate);
}

/// Student's factor of a two-sided interval.
tl::expected<double, StatisticsError> two_sided_factor(const LineFit& fit, double level) {
  const bool sensible = level > 0.0 && level < 1.0; // false for NaN
  if (!sensible) return no_statement(fmt::format("a level of {} is not between 0 and 1", level));
  return student_quantile({.probability = 0.5 + level / 2.0, .degrees_of_freedom = fit.degrees_of_freedom});
}

tl::expected<Interval, StatisticsError> band(const LineFit& fit, BandAt at, double observations) {
  const auto factor = two_sided_factor(fit, at.level);
  if (!factor) return tl::unexpected(factor.error());
  const double d = at.x - fit.mean_x;
  // The variance of the mean is u_slope's own times spread / count, so that a widened fit widens the band alike.
  const double u_mean_squared = fit.u_slope * fit.u_slope * fit.spread_x / fit.count;
  const double u =
      std::sqrt(u_mean_squared + fit.u_slope * d * fit.u_slope * d + observations * fit.residual_sd * fit.residual_sd);
  return Interval{fit.at(at.x) - *factor * u, fit.at(at.x) + *factor * u};
}

} // namespace

double LineFit::t_of_slope() const { return t_statistic(slope, u_slope); }
double LineFit::t_of_intercept() const { return t_statistic(intercept, u_intercept); }

tl::expected<LineFit, StatisticsError> fit_line(std::span<const DataPair> pairs) {
  if (pairs.size() < 3)
    return no_statement(
        fmt::format("{} point{}: a line with its uncertainty needs 3", pairs.size(), pairs.size() == 1 ? "" : "s"));
  const double n = static_cast<double>(pairs.size());
  double mean_x = 0.0;
  double mean_y = 0.0;
  for (const auto& pair : pairs) {
    mean_x += pair.x / n;
    mean_y += pair.y / n;
  }
  double rest_x = 0.0; // what rounding left of the means: a second pass takes it away
  double rest_y = 0.0;
  for (const auto& pair : pairs) {
    rest_x += (pair.x - mean_x) / n;
    rest_y += (pair.y - mean_y) / n;
  }
  mean_x += rest_x;
  mean_y += rest_y;
  double xx = 0.0;
  double xy = 0.0;
  for (const auto& pair : pairs) {
    xx += (pair.x - mean_x) * (pair.x - mean_x);
    xy += (pair.x - mean_x) * (pair.y - mean_y);
  }
  if (!std::isfinite(xx) || !std::isfinite(xy)) return no_statement("a value is not finite, or too large to square");
  const bool equal = std::all_of(pairs.begin(), pairs.end(), [&](const auto& p) { return p.x == pairs[0].x; });
  if (equal || xx <= 0.0) return no_statement("all points lie at one place: no slope can be told");
  LineFit fit{.count = static_cast<int>(pairs.size()), .mean_x = mean_x, .mean_y = mean_y, .spread_x = xx};
  fit.slope = xy / xx;
  fit.intercept = mean_y - fit.slope * mean_x;
  fit.degrees_of_freedom = n - 2.0;
  double squares = 0.0;
  for (const auto& pair : pairs) {
    const double rest = (pair.y - mean_y) - fit.slope * (pair.x - mean_x);
    squares += rest * rest;
  }
  fit.residual_sd = std::sqrt(squares / fit.degrees_of_freedom);
  fit.u_slope = fit.residual_sd / std::sqrt(xx);
  fit.u_intercept = fit.residual_sd * std::sqrt(1.0 / n + mean_x * mean_x / xx);
  if (!std::isfinite(fit.slope) || !std::isfinite(fit.intercept) || !std::isfinite(fit.u_intercept))
    return no_statement("the points lie too close together for a slope");
  return fit;
}

std::vector<double> residuals(const LineFit& fit, std::span<const DataPair> pairs) {
  std::vector<double> rests;
  rests.reserve(pairs.size());
  for (const auto& pair : pairs) rests.push_back((pair.y - fit.mean_y) - fit.slope * (pair.x - fit.mean_x));
  return rests;
}

double lag1_autocorrelation(std::span<const double> values) {
  double mean = 0.0;
  for (const double value : values) mean += value / static_cast<double>(values.size());
  double products = 0.0;
  double squares = 0.0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    squares += (values[i] - mean) * (values[i] - mean);
    if (i + 1 < values.size()) products += (values[i] - mean) * (values[i + 1] - mean);
  }
  return squares > 0.0 ? products / squares : 0.0;
}

tl::expected<LineFit, StatisticsError> widened_for_memory(const LineFit& fit, std::span<const DataPair> pairs,
                                                          double effective_min) {
  const double n = fit.count;
  const double effective_least = std::max(effective_min, 3.0); // fewer leave no degree of freedom
  if (n <= std::max(effective_least, 4.0))
    return no_statement(fmt::format("only {:.0f} samples of {:.0f}", n, effective_least + 1.0));
  const double seen = lag1_autocorrelation(residuals(fit, pairs));
  const double memory = std::clamp((n * seen + 2.0) / (n - 4.0), 0.0, 1.0);
  // A level line without any scatter has no memory to speak of: seen is 0 by definition and must not be "corrected".
  const double effective = fit.residual_sd > 0.0 ? n * (1.0 - memory) / (1.0 + memory) : n;
  if (effective < effective_least)
    return no_statement(fmt::format(
        "neighbouring samples are alike: {} of them tell as much as {:.1f} independent ones", fit.count, effective));
  LineFit wide = fit;
  wide.degrees_of_freedom = effective - 2.0;
  const double widening = std::sqrt(fit.degrees_of_freedom / wide.degrees_of_freedom);
  wide.u_slope *= widening;
  wide.u_intercept *= widening;
  return wide;
}

tl::expected<double, StatisticsError> student_quantile(StudentQuantile wanted) {
  const bool sensible = wanted.probability > 0.0 && wanted.probability < 1.0 && wanted.degrees_of_freedom > 0.0;
  if (!sensible)
    return no_statement(fmt::format("no quantile of Student's t for the probability {} and {} degrees of freedom",
                                    wanted.probability, wanted.degrees_of_freedom));
  namespace policies = boost::math::policies;
  using Quiet = policies::policy<policies::overflow_error<policies::ignore_error>>; // far tails become infinite
  const boost::math::students_t_distribution<double, Quiet> student{wanted.degrees_of_freedom};
  return boost::math::quantile(student, wanted.probability);
}

tl::expected<Interval, StatisticsError> slope_interval(const LineFit& fit, double level) {
  const auto factor = two_sided_factor(fit, level);
  if (!factor) return tl::unexpected(factor.error());
  return Interval{fit.slope - *factor * fit.u_slope, fit.slope + *factor * fit.u_slope};
}

tl::expected<Interval, StatisticsError> confidence_band(const LineFit& fit, BandAt at) { return band(fit, at, 0.0); }
tl::expected<Interval, StatisticsError> prediction_band(const LineFit& fit, BandAt at) { return band(fit, at, 1.0); }

tl::expected<Crossing, StatisticsError> crossing(const LineFit& fit, Target target) {
  const auto factor = two_sided_factor(fit, target.level);
  if (!factor) return tl::unexpected(factor.error());
  const double reach = *factor * fit.u_slope;
  if (std::abs(fit.slope) <= reach)
    return no_statement(fmt::format("the slope {:.3g} is not told from level within ± {:.3g}", fit.slope, reach));
  // The band covers y where (height + slope d)^2 <= reach^2 (spread / n + d^2), d counted from the mean of x.
  const double height = fit.mean_y - target.y;
  const double a = (fit.slope - reach) * (fit.slope + reach);
  const double b = fit.slope * height;
  const double root =
      reach * std::sqrt(height * height + a * fit.spread_x / fit.count); // of b^2 - a c, its terms of one sign
  return Crossing{.x = fit.mean_x - height / fit.slope,
                  .interval = {fit.mean_x + (-b - root) / a, fit.mean_x + (-b + root) / a}};
}

} // namespace oxherd::compensation
