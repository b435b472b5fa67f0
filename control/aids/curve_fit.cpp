#include "control/aids/curve_fit.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>
#include <optional>

#include <fmt/format.h>

namespace oxherd::control {

double student_975(int degrees_of_freedom) {
  const double x = normal_975, x2 = x * x, n = degrees_of_freedom;
  const double g1 = x * (x2 + 1.0) / 4.0;
  const double g2 = x * ((5.0 * x2 + 16.0) * x2 + 3.0) / 96.0;
  const double g3 = x * (((3.0 * x2 + 19.0) * x2 + 17.0) * x2 - 15.0) / 384.0;
  const double g4 = x * ((((79.0 * x2 + 776.0) * x2 + 1482.0) * x2 - 1920.0) * x2 - 945.0) / 92160.0;
  return x + (g1 + (g2 + (g3 + g4 / n) / n) / n) / n;
}

double chi_squared_950(int degrees_of_freedom) {
  constexpr double z = 1.6448536269514722; // one-sided 95 %
  const double n = degrees_of_freedom, part = 2.0 / (9.0 * n);
  return n * std::pow(1.0 - part + z * std::sqrt(part), 3.0);
}

bool CurveFit::explained() const { return chi_squared <= chi_squared_950(degrees_of_freedom); }

double CurveFit::u(std::size_t parameter) const {
  const double variance = covariance[parameter * parameters.size() + parameter];
  return std::sqrt(explained() ? variance : variance * chi_squared / degrees_of_freedom);
}

double CurveFit::coverage() const { return explained() ? normal_975 : student_975(degrees_of_freedom); }

namespace {

using Matrix = std::vector<double>; // square, row by row

/// Inverse of a symmetric, positive definite matrix by Gauss and Jordan. Empty when a pivot is lost to rounding.
std::optional<Matrix> inverse_of(Matrix a, std::size_t n) {
  Matrix inverse(n * n, 0.0);
  for (std::size_t i = 0; i < n; ++i) inverse[i * n + i] = 1.0;
  for (std::size_t i = 0; i < n; ++i) {
    const double pivot = a[i * n + i];
    if (!(pivot > 1e-13)) return std::nullopt; // the diagonal was scaled to 1
    for (std::size_t c = 0; c < n; ++c) {
      a[i * n + c] /= pivot;
      inverse[i * n + c] /= pivot;
    }
    for (std::size_t r = 0; r < n; ++r) {
      if (r == i) continue;
      const double factor = a[r * n + i];
      for (std::size_t c = 0; c < n; ++c) {
        a[r * n + c] -= factor * a[i * n + c];
        inverse[r * n + c] -= factor * inverse[i * n + c];
      }
    }
  }
  return inverse;
}

/// One fit under way: observations and curve, and what they give at some parameters.
class Search {
public:
  Search(std::span<const Estimate> observations, const Curve& curve, std::span<const Parameter> parameters)
      : observations_{observations}, curve_{curve}, scales_{parameters} {}

  /// Residuals in units of their u. Empty where the curve is not finite.
  [[nodiscard]] std::optional<std::vector<double>> residuals(const std::vector<double>& at) const {
    auto values = curve_(at);
    for (std::size_t i = 0; i < values.size(); ++i) {
      values[i] = (observations_[i].value - values[i]) / observations_[i].u;
      if (!std::isfinite(values[i])) return std::nullopt;
    }
    return values;
  }

  /// Slopes of the curve in units of u, parameter after parameter; differences of the fourth order, so that they cost
  /// no digits that the published reference fits print.
  [[nodiscard]] std::vector<std::vector<double>> slopes(std::vector<double> at) const {
    std::vector<std::vector<double>> columns;
    for (std::size_t k = 0; k < at.size(); ++k) {
      const double middle = at[k], h = 1e-3 * std::min(scales_[k].scale, std::max(std::abs(middle), 1e-3));
      const auto shifted = [&](double by) {
        at[k] = middle + by * h;
        return curve_(at);
      };
      const auto far_below = shifted(-2.0), below = shifted(-1.0), above = shifted(1.0), far_above = shifted(2.0);
      at[k] = middle;
      auto& column = columns.emplace_back(observations_.size());
      for (std::size_t i = 0; i < column.size(); ++i)
        column[i] = (8.0 * (above[i] - below[i]) - (far_above[i] - far_below[i])) / (12.0 * h * observations_[i].u);
    }
    return columns;
  }

private:
  std::span<const Estimate> observations_;
  const Curve& curve_;
  std::span<const Parameter> scales_;
};

double dot(std::span<const double> a, std::span<const double> b) {
  return std::inner_product(a.begin(), a.end(), b.begin(), 0.0);
}

/// The normal equations with their diagonal scaled to 1, so that parameters of very different size do not matter.
struct Normal {
  std::size_t n;
  Matrix scaled;
  std::vector<double> root; ///< of the diagonal
  std::vector<double> slope;

  Normal(const std::vector<std::vector<double>>& columns, std::span<const double> residuals)
      : n{columns.size()}, scaled(n * n), root(n), slope(n) {
    for (std::size_t r = 0; r < n; ++r) root[r] = std::sqrt(dot(columns[r], columns[r]));
    for (std::size_t r = 0; r < n; ++r) {
      slope[r] = dot(columns[r], residuals) / root[r];
      for (std::size_t c = 0; c < n; ++c) scaled[r * n + c] = dot(columns[r], columns[c]) / (root[r] * root[c]);
    }
  }
  [[nodiscard]] std::optional<Matrix> inverse(double damping) const {
    Matrix damped = scaled;
    for (std::size_t i = 0; i < n; ++i) damped[i * n + i] += damping;
    return inverse_of(std::move(damped), n);
  }
};

std::string fault_of(std::span<const Estimate> observations, std::size_t parameters) {
  if (observations.size() < parameters + 4)
    return fmt::format("{} points: this fit needs {}", observations.size(), parameters + 4);
  for (const auto& o : observations)
    if (!std::isfinite(o.value) || !std::isfinite(o.u) || o.u <= 0.0)
      return "a value that is not finite, or has no uncertainty above 0";
  return {};
}

} // namespace

tl::expected<CurveFit, std::string> fit_curve(std::span<const Estimate> observations, const Curve& curve,
                                              std::span<const Parameter> parameters) {
  if (auto fault = fault_of(observations, parameters.size()); !fault.empty()) return tl::unexpected(std::move(fault));
  const Search search{observations, curve, parameters};
  std::vector<double> at;
  for (const auto& p : parameters) at.push_back(p.start);
  auto residuals = search.residuals(at);
  if (!residuals) return tl::unexpected<std::string>("the curve is not finite where the search begins");

  double damping = 1e-3;
  bool converged = false;
  for (int round = 0; round < 200 && !converged; ++round) {
    const Normal normal{search.slopes(at), *residuals};
    const auto inverse = normal.inverse(damping);
    if (!inverse) return tl::unexpected<std::string>("the points do not tell the parameters apart");
    auto next = at;
    bool small = true;
    for (std::size_t r = 0; r < normal.n; ++r) {
      const double step = dot(std::span{*inverse}.subspan(r * normal.n, normal.n), normal.slope) / normal.root[r];
      next[r] += step;
      small = small && std::abs(step) <= 1e-10 * std::max(std::abs(at[r]), 1e-3 * parameters[r].scale);
    }
    auto tried = search.residuals(next);
    if (tried && dot(*tried, *tried) <= dot(*residuals, *residuals)) {
      at = std::move(next);
      residuals = std::move(tried);
      damping = std::max(damping / 10.0, 1e-15);
      converged = small;
    } else {
      converged = small; // rounding alone keeps it from falling further
      damping *= 10.0;
    }
  }
  if (!converged) return tl::unexpected<std::string>("the fit does not settle");

  const Normal normal{search.slopes(at), *residuals};
  auto covariance = normal.inverse(0.0);
  if (!covariance) return tl::unexpected<std::string>("the points do not tell the parameters apart");
  for (std::size_t r = 0; r < normal.n; ++r)
    for (std::size_t c = 0; c < normal.n; ++c) (*covariance)[r * normal.n + c] /= normal.root[r] * normal.root[c];
  return CurveFit{.parameters = std::move(at),
                  .covariance = std::move(*covariance),
                  .chi_squared = dot(*residuals, *residuals),
                  .degrees_of_freedom = static_cast<int>(observations.size() - normal.n)};
}

} // namespace oxherd::control
