#include "alarms/rules/trend.hpp"

#include <cmath>
#include <limits>
#include <random>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace oxherd::alarms_trend_test {

using namespace alarms;
using namespace std::chrono_literals;

constexpr double inf = std::numeric_limits<double>::infinity();

std::vector<TimedValue> line(int n, double start, double per_minute) {
  std::vector<TimedValue> samples;
  for (int i = 0; i < n; ++i) samples.push_back({1s * i, start + per_minute * i / 60.0});
  return samples;
}

/// A channel fed by hand, one sample at each call.
struct Course {
  Trend trend{};
  Monotonic window = 60s;
  void sample(Monotonic now, std::vector<Channel> channels, bool continuous = true) {
    for (auto& c : channels) c.taken = now;
    follow(trend, {.channels = channels, .continuous = continuous}, Direction::low, window);
  }
};

TEST(Slope, OfAStraightLineIsItsOwnWithoutDoubt) {
  const auto slope = slope_of(line(61, 20.9, -0.75));
  ASSERT_TRUE(slope);
  EXPECT_NEAR(slope->per_minute, -0.75, 1e-12);
  EXPECT_NEAR(slope->expanded, 0.0, 1e-11);
  EXPECT_NEAR(slope->at_99, 0.0, 1e-11);
}

TEST(Slope, NeedsTwoSamplesAndSixOrSevenForItsIntervals) {
  EXPECT_FALSE(slope_of(line(1, 20.9, -1.0)));
  EXPECT_TRUE(slope_of(line(2, 20.9, -1.0)));
  EXPECT_EQ(slope_of(line(5, 20.9, -1.0))->expanded, inf);
  EXPECT_LT(slope_of(line(6, 20.9, -1.0))->expanded, 1e-11);
  EXPECT_EQ(slope_of(line(6, 20.9, -1.0))->at_99, inf);
  EXPECT_LT(slope_of(line(7, 20.9, -1.0))->at_99, 1e-11);
}

// By hand: the slopes of 0, 1, 4, 9, 16, 25, 36 at steps of one minute are the sums i + j of the pairs of 0 to 6, in
// order 1 2 3 3 4 4 5 5 5 6 6 6 7 7 7 8 8 9 9 10 11. n = 7: sqrt(7 * 6 * 19 / 18) = 6.658; the interval leaves out
// floor((21 - 2 * 6.658) / 2) - 1 = 2 slopes on each side for k = 2, floor((21 - 17.15) / 2) - 1 = 0 for 99 %.
TEST(Slope, IsTheMedianOfAllPairsWithTheRanksOfItsInterval) {
  std::vector<TimedValue> squares;
  for (int i = 0; i < 7; ++i) squares.push_back({1min * i, 1.0 * i * i});
  const auto slope = slope_of(squares);
  EXPECT_DOUBLE_EQ(slope->per_minute, 6.0);
  EXPECT_DOUBLE_EQ(slope->expanded, 3.0); // 3 to 9
  EXPECT_DOUBLE_EQ(slope->at_99, 5.0);    // 1 to 11
}

TEST(Slope, IsMovedLittleByADoorSlam) {
  auto samples = line(61, 20.9, -0.5);
  for (std::size_t i = 30; i < 33; ++i) samples[i].value -= 2.0; // three seconds
  const auto slope = slope_of(samples);
  EXPECT_NEAR(slope->per_minute, -0.5, 1e-9);
}

// The promise of the interval itself, with normal noise. 4000 trials: the share has a standard deviation of 0.16 % at
// 99 % and 0.33 % at 95.45 %; four of these are allowed, and the interval may be wider than promised.
TEST(Slope, IntervalsHoldTheTruthAsOftenAsTheyPromise) {
  for (const int n : {12, 61, 120}) {
    SCOPED_TRACE(n);
    std::mt19937 random{20260301};
    std::normal_distribution<double> noise{0.0, 0.05};
    int held = 0, held_at_99 = 0;
    const int trials = n == 12 ? 4000 : 400;
    for (int trial = 0; trial < trials; ++trial) {
      auto samples = line(n, 20.9, -0.3);
      for (auto& s : samples) s.value += noise(random);
      const auto slope = slope_of(samples);
      const double error = std::abs(slope->per_minute + 0.3);
      if (error <= slope->expanded) ++held;
      if (error <= slope->at_99) ++held_at_99;
    }
    const auto least = [&](double p) { return trials * p - 4.0 * std::sqrt(trials * p * (1.0 - p)); };
    EXPECT_GE(held, least(0.9545));
    EXPECT_GE(held_at_99, least(0.99));
  }
}

RC_GTEST_PROP(Slope, FollowsUnitsAndOffsetsOfTheValue, ()) {
  auto samples = line(*rc::gen::inRange(6, 60), 0.0, 0.0);
  for (auto& s : samples) s.value = *rc::gen::inRange(-1000, 1000) * 0.125;
  const double offset = *rc::gen::inRange(-1000, 1000) * 0.5;
  const auto slope = slope_of(samples);
  auto moved = samples;
  for (auto& s : moved) s.value = 4.0 * s.value + offset;
  const auto after = slope_of(moved);
  RC_ASSERT(std::abs(after->per_minute - 4.0 * slope->per_minute) <= 1e-9 * (1.0 + std::abs(after->per_minute)));
  RC_ASSERT(std::isinf(after->at_99) == std::isinf(slope->at_99));
  if (!std::isinf(after->at_99)) RC_ASSERT(std::abs(after->at_99 - 4.0 * slope->at_99) <= 1e-9 * (1.0 + after->at_99));
  RC_ASSERT(slope->expanded <= slope->at_99);
}

TEST(Trend, HasNoSlopeUntilItsSamplesSpanTheWindow) {
  Course c;
  for (Monotonic t = 10s; t < 70s; t += 1s) {
    c.sample(t, {{Quality::good, 20.9}});
    ASSERT_FALSE(c.trend.slope) << t.count();
  }
  c.sample(70s, {{Quality::good, 20.9}});
  EXPECT_TRUE(c.trend.slope);
}

TEST(Trend, TakesASampleThatStillHoldsOnce) {
  Course c;
  const std::vector<Channel> channel{{Quality::good, 20.9, 0.1, 5s}};
  for (int i = 0; i < 10; ++i) follow(c.trend, {.channels = channel}, Direction::low, c.window);
  EXPECT_EQ(c.trend.samples.size(), 1U);
}

TEST(Trend, KeepsItsMemoryBoundedWhateverTheRateOfSamples) {
  for (const Monotonic window : {1000ms, 10000ms, 60000ms, 61234ms, 3600000ms})
    for (const Monotonic every : {1ms, 7ms, 499ms, 500ms, 501ms, 60000ms}) {
      Course c{.window = window};
      const int n = static_cast<int>(std::min<std::int64_t>(3 * window / every + 10, 5000));
      const Monotonic step = std::max(every, 3 * window / 5000);
      for (int i = 0; i < n; ++i) {
        c.sample(step * i, {{Quality::good, 20.9}});
        ASSERT_LE(c.trend.samples.size(), std::size_t{trend_samples_max} + 2);
      }
      EXPECT_TRUE(c.trend.slope) << window.count() << " " << every.count();
    }
}

TEST(Trend, BeginsAnewAfterABadSampleACalibrationAndAnotherSetOfChannels) {
  const auto filled = [](std::vector<Channel> channels) {
    Course c;
    for (Monotonic t = 0s; t <= 60s; t += 1s) c.sample(t, channels);
    EXPECT_TRUE(c.trend.slope);
    return c;
  };
  const Channel good{Quality::good, 20.9}, bad{};
  Course lost = filled({good});
  lost.sample(61s, {bad});
  EXPECT_TRUE(lost.trend.samples.empty());
  Course calibrated = filled({good});
  calibrated.sample(61s, {good}, false);
  EXPECT_EQ(calibrated.trend.samples.size(), 1U);
  EXPECT_FALSE(calibrated.trend.slope);
  Course one_less = filled({good, good});
  one_less.sample(61s, {good, bad});
  EXPECT_EQ(one_less.trend.samples.size(), 1U);
  EXPECT_FALSE(one_less.trend.slope);
}

TEST(Trend, TakesUncertainSamplesLikeGoodOnes) {
  Course c;
  for (Monotonic t = 0s; t <= 60s; t += 1s) c.sample(t, {{t == 30s ? Quality::uncertain : Quality::good, 20.9}});
  EXPECT_TRUE(c.trend.slope);
}

} // namespace oxherd::alarms_trend_test
