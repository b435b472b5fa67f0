#include "compensation/regression.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace oxherd::compensation::regression_test {

// NIST StRD, linear regression, Norris.dat: the calibration of ozone monitors.
constexpr DataPair norris[] = {
    {0.2, 0.1},     {337.4, 338.8}, {118.2, 118.1}, {884.6, 888.0}, {10.1, 9.2},    {226.5, 228.1},
    {666.3, 668.5}, {996.3, 998.5}, {448.6, 449.1}, {777.0, 778.9}, {558.2, 559.2}, {0.4, 0.3},
    {0.6, 0.1},     {775.5, 778.1}, {666.9, 668.8}, {338.0, 339.3}, {447.5, 448.9}, {11.6, 10.8},
    {556.0, 557.7}, {228.1, 228.3}, {995.8, 998.0}, {887.6, 888.8}, {120.2, 119.6}, {0.3, 0.3},
    {0.3, 0.6},     {556.8, 557.6}, {339.1, 339.3}, {887.2, 888.0}, {999.0, 998.5}, {779.0, 778.9},
    {11.1, 10.2},   {118.3, 117.6}, {229.2, 228.9}, {669.1, 668.4}, {448.9, 449.2}, {0.5, 0.2}};
// NIST StRD, univariate summary statistics, Lottery.dat.
constexpr double lottery[] = {
    162, 671, 933, 414, 788, 730, 817, 33,  536, 875, 670, 236, 473, 167, 877, 980, 316, 950, 456, 92,  517, 557,
    956, 954, 104, 178, 794, 278, 147, 773, 437, 435, 502, 610, 582, 780, 689, 562, 964, 791, 28,  97,  848, 281,
    858, 538, 660, 972, 671, 613, 867, 448, 738, 966, 139, 636, 847, 659, 754, 243, 122, 455, 195, 968, 793, 59,
    730, 361, 574, 522, 97,  762, 431, 158, 429, 414, 22,  629, 788, 999, 187, 215, 810, 782, 47,  34,  108, 986,
    25,  644, 829, 630, 315, 567, 919, 331, 207, 412, 242, 607, 668, 944, 749, 168, 864, 442, 533, 805, 372, 63,
    458, 777, 416, 340, 436, 140, 919, 350, 510, 572, 905, 900, 85,  389, 473, 758, 444, 169, 625, 692, 140, 897,
    672, 288, 312, 860, 724, 226, 884, 508, 976, 741, 476, 417, 831, 15,  318, 432, 241, 114, 799, 955, 833, 358,
    935, 146, 630, 830, 440, 642, 356, 373, 271, 715, 367, 393, 190, 669, 8,   861, 108, 795, 269, 590, 326, 866,
    64,  523, 862, 840, 219, 382, 998, 4,   628, 305, 747, 247, 34,  747, 729, 645, 856, 974, 24,  568, 24,  694,
    608, 480, 410, 729, 947, 293, 53,  930, 223, 203, 677, 227, 62,  455, 387, 318, 562, 242, 428, 968};

void expect_relative(double value, double expected, double relative) {
  EXPECT_NEAR(value, expected, std::abs(expected) * relative);
}

// Certified values of NIST StRD Norris.dat, recomputed with exact fractions. The tolerances are what centred sums in
// double precision lose on these data: the intercept is a small difference of large numbers.
TEST(FitLine, AgreesWithTheCertifiedValuesOfNorris) {
  const auto fit = fit_line(norris).value();
  expect_relative(fit.intercept, -0.262323073774029, 1e-10);
  expect_relative(fit.slope, 1.00211681802045, 1e-13);
  expect_relative(fit.u_intercept, 0.232818234301152, 1e-11);
  expect_relative(fit.u_slope, 0.429796848199937e-3, 1e-11);
  expect_relative(fit.residual_sd, 0.884796396144373, 1e-11);
  EXPECT_EQ(fit.degrees_of_freedom, 34.0);
  expect_relative(fit.t_of_slope() * fit.t_of_slope(), 5436385.54079785, 1e-9); // the certified F statistic
  expect_relative(fit.t_of_intercept(), -0.262323073774029 / 0.232818234301152, 1e-10);
}

// GUM (JCGM 100:2008), H.3: corrections of a thermometer against its reading above 20 °C. Data of table H.6 and the
// results in H.3.3 and H.3.4 as the documentation of the GUM Tree Calculator of the Measurement Standards Laboratory of
// New Zealand repeats them; s and the third decimal of r are from memory. Half a unit of the last printed digit is
// allowed.
constexpr DataPair thermometer[] = {{1.521, -0.171}, {2.012, -0.169}, {2.512, -0.166}, {3.003, -0.159},
                                    {3.507, -0.164}, {3.999, -0.165}, {4.513, -0.156}, {5.002, -0.157},
                                    {5.503, -0.159}, {6.010, -0.161}, {6.511, -0.160}};

/// Standard uncertainty of the line at x, out of its confidence band.
double u_of_line(const LineFit& fit, double x) {
  const auto band = confidence_band(fit, {.x = x, .level = 0.95}).value();
  return (band.high - band.low) / 2.0 / student_quantile({0.975, fit.degrees_of_freedom}).value();
}

TEST(FitLine, AgreesWithTheThermometerOfTheGum) {
  const auto fit = fit_line(thermometer).value();
  EXPECT_NEAR(fit.intercept, -0.1712, 0.00005);
  EXPECT_NEAR(fit.u_intercept, 0.0029, 0.00005);
  EXPECT_NEAR(fit.slope, 0.00218, 0.000005);
  EXPECT_NEAR(fit.u_slope, 0.00067, 0.000005);
  EXPECT_NEAR(fit.residual_sd, 0.0035, 0.00005);
  EXPECT_EQ(fit.degrees_of_freedom, 9.0);
  EXPECT_NEAR(fit.at(10.0), -0.1494, 0.00005); // at 30 °C
  EXPECT_NEAR(u_of_line(fit, 10.0), 0.0041, 0.00005);
}

// The same: r(y1, y2) is what equation (H.15) needs to give the u of the line, so the u of the line gives r.
TEST(Bands, HoldTheCorrelationOfInterceptAndSlopeOfTheGum) {
  const auto fit = fit_line(thermometer).value();
  const double rest = u_of_line(fit, 10.0) * u_of_line(fit, 10.0) - fit.u_intercept * fit.u_intercept -
                      100.0 * fit.u_slope * fit.u_slope;
  EXPECT_NEAR(rest / (20.0 * fit.u_intercept * fit.u_slope), -0.930, 0.0005);
}

// H.3.5 (from memory): from the mean reading on, intercept and slope are independent, and the intercept's u is less.
TEST(Bands, GiveTheInterceptOfTheGumAtTheMeanReading) {
  const auto fit = fit_line(thermometer).value();
  EXPECT_NEAR(fit.mean_x + 20.0, 24.0085, 0.00005);
  EXPECT_NEAR(fit.at(fit.mean_x), -0.1625, 0.00005);
  EXPECT_NEAR(u_of_line(fit, fit.mean_x), 0.0011, 0.00005);
}

// Six uneven samples of a falling reading, computed with 50 digits.
TEST(FitLine, FindsTheSlopeOfUnevenSamples) {
  constexpr DataPair pairs[] = {{0, 20.90}, {4, 20.86}, {11, 20.77}, {15, 20.75}, {19, 20.68}, {30, 20.57}};
  const auto fit = fit_line(pairs).value();
  expect_relative(fit.slope, -0.0110923648842, 1e-11);
  expect_relative(fit.u_slope, 0.0004333771, 1e-7);
  expect_relative(fit.intercept, 20.901049471, 1e-10);
  expect_relative(fit.residual_sd, 0.010462565, 1e-7);
}

// Seconds since 1970 in front of a small change: sums of squares about zero would lose the slope altogether.
TEST(FitLine, IsNotUpsetByALargeCommonOffset) {
  std::vector<DataPair> shifted;
  for (const auto& pair : norris) shifted.push_back({pair.x + 1.75e9, pair.y});
  const auto fit = fit_line(shifted).value();
  expect_relative(fit.slope, 1.00211681802045, 1e-9); // x is rounded to 2^-22 here
  expect_relative(fit.residual_sd, 0.884796396144373, 1e-6);
}

TEST(FitLine, GivesAPerfectLineWithoutScatter) {
  constexpr DataPair pairs[] = {{0, 1}, {1, 3}, {2, 5}, {3, 7}};
  const auto fit = fit_line(pairs).value();
  EXPECT_EQ(fit.slope, 2.0);
  EXPECT_EQ(fit.intercept, 1.0);
  EXPECT_EQ(fit.residual_sd, 0.0);
  EXPECT_TRUE(std::isinf(fit.t_of_slope()));
  constexpr DataPair level[] = {{0, 4}, {1, 4}, {2, 4}};
  EXPECT_EQ(fit_line(level).value().t_of_slope(), 0.0);
}

TEST(FitLine, RefusesWhatHasNoSlope) {
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  constexpr double infinite = std::numeric_limits<double>::infinity();
  EXPECT_EQ(fit_line({}).error().what, "0 points: a line with its uncertainty needs 3");
  EXPECT_EQ(fit_line(std::vector<DataPair>{{1, 1}}).error().what, "1 point: a line with its uncertainty needs 3");
  EXPECT_FALSE(fit_line(std::vector<DataPair>{{1, 1}, {2, 2}}));
  EXPECT_FALSE(fit_line(std::vector<DataPair>{{7, 1}, {7, 2}, {7, 3}}));
  EXPECT_FALSE(fit_line(std::vector<DataPair>{{0.1, 1}, {0.1, 2}, {0.1, 3}})) << "the mean is not exactly 0.1";
  EXPECT_FALSE(fit_line(std::vector<DataPair>{{1, 1}, {2, nan}, {3, 3}}));
  EXPECT_FALSE(fit_line(std::vector<DataPair>{{1, 1}, {infinite, 2}, {3, 3}}));
  EXPECT_FALSE(fit_line(std::vector<DataPair>{{1, 1}, {1e200, 2}, {3, 3}}));
}

// NIST StRD Lottery.dat and NumAcc2.dat, certified lag-1 autocorrelation coefficients.
TEST(Lag1Autocorrelation, AgreesWithTheCertifiedValuesOfLotteryAndNumAcc2) {
  EXPECT_NEAR(lag1_autocorrelation(lottery), -0.120948622967393, 1e-12);
  std::vector<double> num_acc_2{1.2};
  for (int i = 0; i < 500; ++i) num_acc_2.insert(num_acc_2.end(), {1.1, 1.3});
  EXPECT_NEAR(lag1_autocorrelation(num_acc_2), -0.999, 1e-12);
  EXPECT_EQ(lag1_autocorrelation(std::vector<double>(5, 2.5)), 0.0);
}

// GUM (JCGM 100:2008), table G.2: two decimals are printed.
TEST(StudentQuantile, AgreesWithTableG2OfTheGum) {
  struct Row {
    double degrees_of_freedom, level, printed;
  };
  constexpr Row rows[] = {{1, 0.95, 12.71}, {2, 0.95, 4.30},    {3, 0.95, 3.18},  {4, 0.95, 2.78},  {5, 0.95, 2.57},
                          {10, 0.95, 2.23}, {20, 0.95, 2.09},   {50, 0.95, 2.01}, {1, 0.99, 63.66}, {5, 0.99, 4.03},
                          {30, 0.99, 2.75}, {10, 0.9545, 2.28}, {5, 0.9973, 5.51}};
  for (const auto& row : rows) {
    SCOPED_TRACE(row.degrees_of_freedom);
    const auto t = student_quantile({0.5 + row.level / 2.0, row.degrees_of_freedom});
    EXPECT_NEAR(t.value(), row.printed, 0.005 + 1e-9);
  }
  EXPECT_NEAR(student_quantile({0.975, 34.0}).value(), 2.032244509317, 1e-9); // by numerical integration
  EXPECT_EQ(student_quantile({0.5, 7.5}).value(), 0.0);
}

TEST(StudentQuantile, RefusesWhatIsNoProbability) {
  for (const double p : {0.0, 1.0, -0.1, 1.1, std::numeric_limits<double>::quiet_NaN()})
    EXPECT_FALSE(student_quantile({p, 5.0})) << p;
  EXPECT_FALSE(student_quantile({0.9, 0.0}));
  EXPECT_FALSE(student_quantile({0.9, std::numeric_limits<double>::quiet_NaN()}));
}

// Norris at x = 300, 95 %: sums by exact fractions, Student's t by numerical integration.
TEST(Bands, AgreeWithAnIndependentComputation) {
  const auto fit = fit_line(norris).value();
  const auto mean = confidence_band(fit, {.x = 300.0}).value();
  EXPECT_NEAR(mean.low, 300.05547107828636, 1e-8);
  EXPECT_NEAR(mean.high, 300.6899735864382, 1e-8);
  const auto single = prediction_band(fit, {.x = 300.0}).value();
  EXPECT_NEAR(single.low, 298.54682712526056, 1e-8);
  EXPECT_NEAR(single.high, 302.198617539464, 1e-8);
  const auto slope = slope_interval(fit, 0.95).value();
  EXPECT_NEAR(slope.high - slope.low, 2.0 * 2.032244509317 * 0.429796848199937e-3, 1e-10);
  EXPECT_FALSE(confidence_band(fit, {.x = 0.0, .level = 1.0}));
}

// Norris, the x where the line and either side of its 95 % band reach y = 500, found by bisection of that band.
TEST(Crossing, LiesWhereTheBandMeetsTheTarget) {
  const auto fit = fit_line(norris).value();
  const auto found = crossing(fit, {.y = 500.0}).value();
  EXPECT_NEAR(found.x, 499.20559567294185, 1e-8);
  EXPECT_NEAR(found.interval.low, 498.89857527085917, 1e-8);
  EXPECT_NEAR(found.interval.high, 499.5127376692552, 1e-8);
}

// A falling line far beyond its data: the ends of the interval lie on the band, and its far end is the farther one.
TEST(Crossing, GrowsLopsidedBeyondTheData) {
  constexpr DataPair pairs[] = {{0, 1.000}, {1, 0.991}, {2, 0.983}, {3, 0.966}, {4, 0.962}, {5, 0.949}};
  const auto fit = fit_line(pairs).value();
  const auto found = crossing(fit, {.y = 0.7}).value();
  EXPECT_NEAR(fit.at(found.x), 0.7, 1e-12);
  EXPECT_NEAR(confidence_band(fit, {.x = found.interval.low}).value().low, 0.7, 1e-12);
  EXPECT_NEAR(confidence_band(fit, {.x = found.interval.high}).value().high, 0.7, 1e-12);
  EXPECT_LT(found.interval.low, found.x);
  EXPECT_GT(found.interval.high - found.x, 1.1 * (found.x - found.interval.low));
}

TEST(Crossing, RefusesASlopeThatIsNotToldFromLevel) {
  constexpr DataPair pairs[] = {{0, 1.00}, {1, 1.02}, {2, 0.99}, {3, 1.01}, {4, 1.00}};
  const auto found = crossing(fit_line(pairs).value(), {.y = 0.7});
  ASSERT_FALSE(found);
  EXPECT_NE(found.error().what.find("not told from level"), std::string::npos) << found.error().what;
  constexpr DataPair level[] = {{0, 4}, {1, 4}, {2, 4}};
  EXPECT_FALSE(crossing(fit_line(level).value(), {.y = 0.7}));
}

TEST(WidenedForMemory, LeavesIndependentResidualsNearlyAsTheyAre) {
  std::vector<DataPair> pairs; // lottery numbers are as independent as numbers get; their r is negative
  for (const double value : lottery) pairs.push_back({static_cast<double>(pairs.size()), value});
  const auto fit = fit_line(pairs).value();
  const auto wide = widened_for_memory(fit, pairs, 5.0).value();
  EXPECT_EQ(wide.u_slope, fit.u_slope);
  EXPECT_EQ(wide.slope, fit.slope);
}

// Each lottery number five times over holds no more than once: r = 0.8, so n' should be about n / 9, and the slope's
// u about what the single numbers give (the blocks are not quite a first-order autoregression).
TEST(WidenedForMemory, SeesThroughRepeatedValues) {
  std::vector<DataPair> once;
  std::vector<DataPair> five_times;
  for (std::size_t i = 0; i < std::size(lottery); ++i) {
    once.push_back({static_cast<double>(i), lottery[i]});
    for (int k = 0; k < 5; ++k) five_times.push_back({static_cast<double>(i) + 0.2 * k, lottery[i]});
  }
  const auto narrow = fit_line(five_times).value();
  const auto wide = widened_for_memory(narrow, five_times, 5.0).value();
  const double single = fit_line(once).value().u_slope;
  EXPECT_LT(narrow.u_slope, 0.5 * single);
  EXPECT_GT(wide.u_slope, single);
  EXPECT_LT(wide.u_slope, 2.0 * single);
}

TEST(WidenedForMemory, RefusesWhenTooLittleIsIndependent) {
  std::vector<DataPair> curve; // residuals of a parabola follow each other closely
  for (int i = 0; i < 60; ++i) curve.push_back({static_cast<double>(i), 0.01 * i * i});
  const auto fit = fit_line(curve).value();
  EXPECT_FALSE(widened_for_memory(fit, curve, 6.0));
  EXPECT_FALSE(widened_for_memory(fit_line(std::span{norris}.first(5)).value(), std::span{norris}.first(5), 6.0));
}

// No scatter at all: nothing to widen, and no 0 / 0.
TEST(WidenedForMemory, LeavesALineWithoutScatterAlone) {
  std::vector<DataPair> level;
  for (int i = 0; i < 60; ++i) level.push_back({static_cast<double>(i), 0.0126});
  const auto wide = widened_for_memory(fit_line(level).value(), level, 6.0);
  ASSERT_TRUE(wide);
  EXPECT_EQ(wide->u_slope, 0.0);
}

} // namespace oxherd::compensation::regression_test
