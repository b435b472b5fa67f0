#include "control/aids/curve_fit.hpp"

#include <array>
#include <cmath>

#include <gtest/gtest.h>

namespace oxherd::control::curve_fit_test {

struct Pair {
  double x;
  double y;
};

// NIST Statistical Reference Datasets, nonlinear regression: Misra1a and Misra1c share these data (Misra 1978).
constexpr std::array misra{Pair{77.6, 10.07},  Pair{114.9, 14.73}, Pair{141.1, 17.94}, Pair{190.8, 23.93},
                           Pair{239.9, 29.61}, Pair{289.0, 35.18}, Pair{332.8, 40.02}, Pair{378.4, 44.82},
                           Pair{434.8, 50.76}, Pair{477.3, 55.05}, Pair{536.8, 61.01}, Pair{593.1, 66.40},
                           Pair{689.1, 75.47}, Pair{760.0, 81.78}};

struct Certified {
  std::array<double, 2> b;
  std::array<double, 2> deviation;
  double sum_of_squares;
};

void fit_and_compare(const std::function<double(std::span<const double>, double)>& f, std::array<double, 2> start,
                     const Certified& certified) {
  std::vector<Estimate> observations;
  for (const auto& pair : misra) observations.push_back({pair.y, 1.0});
  const auto curve = [&](std::span<const double> b) {
    std::vector<double> values;
    for (const auto& pair : misra) values.push_back(f(b, pair.x));
    return values;
  };
  const std::array parameters{Parameter{start[0], start[0]}, Parameter{start[1], start[1]}};
  const auto fit = fit_curve(observations, curve, parameters);
  ASSERT_TRUE(fit) << fit.error();
  EXPECT_EQ(fit->degrees_of_freedom, 12);
  EXPECT_NEAR(fit->chi_squared / certified.sum_of_squares, 1.0, 1e-9);
  const double residual_sd = std::sqrt(fit->chi_squared / fit->degrees_of_freedom); // theirs are from the scatter
  for (std::size_t i = 0; i < 2; ++i) {
    EXPECT_NEAR(fit->parameters[i] / certified.b[i], 1.0, 1e-9);
    EXPECT_NEAR(std::sqrt(fit->covariance[3 * i]) * residual_sd / certified.deviation[i], 1.0, 1e-8);
  }
}

// Certified values are printed with 11 digits; 9 of the parameters and 8 of their deviations are demanded.
TEST(CurveFit, AgreesWithNistMisra1aFromBothStarts) {
  const auto f = [](std::span<const double> b, double x) { return b[0] * (1.0 - std::exp(-b[1] * x)); };
  const Certified certified{
      {2.3894212918e+02, 5.5015643181e-04}, {2.7070075241e+00, 7.2668688436e-06}, 1.2455138894e-01};
  fit_and_compare(f, {500.0, 0.0001}, certified);
  fit_and_compare(f, {250.0, 0.0005}, certified);
}

TEST(CurveFit, AgreesWithNistMisra1cFromBothStarts) {
  const auto f = [](std::span<const double> b, double x) {
    return b[0] * (1.0 - 1.0 / std::sqrt(1.0 + 2.0 * b[1] * x));
  };
  const Certified certified{
      {6.3642725809e+02, 2.0813627256e-04}, {4.6638326572e+00, 1.7728423155e-06}, 4.0966836971e-02};
  fit_and_compare(f, {500.0, 0.0001}, certified);
  fit_and_compare(f, {600.0, 0.0002}, certified);
}

/// A level, with the parameter once alone and once split in two that only their sum can be told of.
tl::expected<CurveFit, std::string> level(std::vector<Estimate> values, bool split = false) {
  const auto curve = [&](std::span<const double> b) {
    return std::vector<double>(values.size(), split ? b[0] + b[1] : b[0]);
  };
  std::vector<Parameter> parameters{{1.0, 1.0}};
  if (split) parameters.push_back({1.0, 1.0});
  return fit_curve(values, curve, parameters);
}

TEST(CurveFit, OfALevelIsTheWeightedMean) {
  const auto fit = level({{10.0, 1.0}, {10.0, 1.0}, {13.0, 2.0}, {10.0, 1.0}, {13.0, 2.0}, {10.0, 1.0}});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->parameters[0], (4 * 10.0 + 2 * 13.0 / 4) / 4.5, 1e-9);
  EXPECT_TRUE(fit->explained());
  EXPECT_NEAR(fit->u(0), 1.0 / std::sqrt(4.5), 1e-9);
  EXPECT_DOUBLE_EQ(fit->coverage(), normal_975);
}

TEST(CurveFit, WidensWhereTheScatterIsMoreThanWasStated) {
  const auto fit = level({{1, 0.1}, {-1, 0.1}, {1, 0.1}, {-1, 0.1}, {1, 0.1}, {-1, 0.1}, {0, 0.1}});
  ASSERT_TRUE(fit);
  EXPECT_FALSE(fit->explained());
  EXPECT_NEAR(fit->u(0), 1.0 / std::sqrt(7.0), 1e-9); // the standard deviation of the values is 1
  EXPECT_DOUBLE_EQ(fit->coverage(), student_975(6));
}

TEST(CurveFit, RefusesWhatTellsNothing) {
  EXPECT_FALSE(level({{1, 1}, {1, 1}, {1, 1}, {1, 1}}));
  EXPECT_TRUE(level({{1, 1}, {1, 1}, {1, 1}, {1, 1}, {1, 1}}));
  EXPECT_FALSE(level({{1, 1}, {1, 0}, {1, 1}, {1, 1}, {1, 1}}));
  EXPECT_FALSE(level({{1, 1}, {NAN, 1}, {1, 1}, {1, 1}, {1, 1}}));
  EXPECT_FALSE(level({{1, 1}, {1, 1}, {1, 1}, {1, 1}, {1, 1}, {1, 1}}, true));
}

// GUM (JCGM 100:2008), table G.2, 95 %.
TEST(Student, AgreesWithTheTableOfTheGum) {
  EXPECT_NEAR(student_975(4), 2.78, 0.005);
  EXPECT_NEAR(student_975(6), 2.45, 0.005);
  EXPECT_NEAR(student_975(10), 2.23, 0.005);
  EXPECT_NEAR(student_975(20), 2.09, 0.005);
  EXPECT_NEAR(student_975(50), 2.01, 0.005);
}

// NIST/SEMATECH e-Handbook, 1.3.6.7.4, upper critical values, 0.05 (from memory).
// The cube root is right to half a percent.
TEST(ChiSquared, AgreesWithTheTableWithinItsApproximation) {
  EXPECT_NEAR(chi_squared_950(4) / 9.488, 1.0, 0.005);
  EXPECT_NEAR(chi_squared_950(10) / 18.307, 1.0, 0.005);
  EXPECT_NEAR(chi_squared_950(50) / 67.505, 1.0, 0.005);
}

} // namespace oxherd::control::curve_fit_test
