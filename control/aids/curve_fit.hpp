#pragma once

#include <functional>
#include <span>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "control/aids/estimate.hpp"

namespace oxherd::control {

/// What a curve says for every observation, in their order, for the parameters it is given.
using Curve = std::function<std::vector<double>(std::span<const double>)>;

/// Where the search for a parameter begins, and over what distance the curve bends with it.
struct Parameter {
  double start = 0.0;
  double scale = 1.0; ///< above 0; a rough magnitude will do
};

/// A curve fitted to observations by weighted least squares.
struct CurveFit {
  std::vector<double> parameters;
  std::vector<double> covariance; ///< row by row; from the stated uncertainties of the observations alone
  double chi_squared = 0.0;       ///< sum of ((observed - curve) / u)^2
  int degrees_of_freedom = 0;

  /// Whether the stated uncertainties explain the scatter about the curve, at 95 %.
  [[nodiscard]] bool explained() const;
  /// Standard uncertainty of a parameter. Widened by the scatter where the stated uncertainties do not explain it.
  [[nodiscard]] double u(std::size_t parameter) const;
  /// What turns a standard uncertainty of this fit into 95 %: 1.96, or Student's t where the scatter had to tell it.
  [[nodiscard]] double coverage() const;
};

/// Levenberg's and Marquardt's search. Needs at least four observations more than parameters.
/// @param observations with standard uncertainties above 0, independent of each other
/// @return why not, in words: too few, a number that is not finite, no convergence, parameters that cannot be told
/// apart
/// @source Marquardt 1963 (J. SIAM 11, 431), from memory
/// @checked tests/control/aids/curve_fit_test.cpp: NIST StRD Misra1a, Misra1c; coverage over simulated decays
[[nodiscard]] tl::expected<CurveFit, std::string> fit_curve(std::span<const Estimate> observations, const Curve& curve,
                                                            std::span<const Parameter> parameters);

} // namespace oxherd::control
