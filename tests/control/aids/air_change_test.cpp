#include "control/aids/air_change.hpp"

#include <cmath>
#include <vector>

#include <gtest/gtest.h>

#include "tests/control/aids/seeded.hpp"

namespace oxherd::control::air_change_test {

/// A mixed room, one reading a minute, integrated in steps of a second.
struct AiredRoom {
  double per_h = 1.7;
  double first = 3000e-6;
  double outside = 420e-6;
  double source_per_s = 0.0;
  double u = 5e-6;

  [[nodiscard]] std::vector<TracerSample> series(int minutes, std::mt19937_64* noise = nullptr) const {
    std::normal_distribution<double> normal;
    std::vector<TracerSample> samples;
    double fraction = first;
    for (int minute = 0; minute <= minutes; ++minute) {
      samples.push_back({std::chrono::minutes{minute}, {fraction + (noise ? u * normal(*noise) : 0.0), u}});
      for (int part = 0; part < 600; ++part) fraction += 0.1 * (per_h / 3600 * (outside - fraction) + source_per_s);
    }
    return samples;
  }
};

AirChangeFault fault_of(const std::vector<TracerSample>& samples, const AirChangeTest& test) {
  const auto result = measure_air_change(samples, test);
  EXPECT_FALSE(result);
  EXPECT_FALSE(result ? true : result.error().what.empty());
  return result ? AirChangeFault{} : result.error().fault;
}

// From the definition: carbon dioxide from 3000 to 1500 ppm in 30 minutes with 420 ppm outside is 1.7 per hour.
TEST(AirChange, OfTwoReadingsIsThatOfTheWorkedExample) {
  const auto n = air_change_per_h({3000, 1500, 420, 1800});
  ASSERT_TRUE(n);
  EXPECT_NEAR(*n, 1.7, 0.05);
  EXPECT_DOUBLE_EQ(*n, 2 * std::log(2580.0 / 1080.0));
  EXPECT_FALSE(air_change_per_h({3000, 400, 420, 1800}));
  EXPECT_FALSE(air_change_per_h({3000, 420, 420, 1800}));
  EXPECT_FALSE(air_change_per_h({3000, 1500, 420, 0}));
}

TEST(AirChange, OfASeriesAgreesWithItsEnds) {
  const AiredRoom room;
  const auto samples = room.series(30);
  const auto fitted = measure_air_change(samples, {.outside = {room.outside, 0}});
  ASSERT_TRUE(fitted) << fitted.error().what;
  const auto ends =
      air_change_per_h({samples.front().fraction.value, samples.back().fraction.value, room.outside, 1800});
  ASSERT_TRUE(ends);
  EXPECT_NEAR(fitted->per_h.value, *ends, 1e-6);
  EXPECT_NEAR(fitted->per_h.value, room.per_h, 1e-4); // the simulation's steps of 0.1 s
  EXPECT_NEAR(fitted->end_fraction, room.outside, 1e-12);
}

TEST(AirChange, IsToldByOxygenThatRisesAgain) {
  const AiredRoom room{.per_h = 0.2, .first = 0.02, .outside = 0.2095, .u = 0.0005};
  const auto fitted = measure_air_change(room.series(120), {.outside = {0.2095, 0}});
  ASSERT_TRUE(fitted) << fitted.error().what;
  EXPECT_NEAR(fitted->per_h.value, 0.2, 1e-4);
}

// Goods that use 0.1 % of the room's air as oxygen an hour hide part of what comes in.
TEST(AirChange, TakesRespirationIntoAccountAndSaysWhatItWouldHaveSaid) {
  const AiredRoom room{.per_h = 0.05, .first = 0.02, .outside = 0.2095, .source_per_s = -0.001 / 3600, .u = 0.0001};
  const auto fitted =
      measure_air_change(room.series(240), {.outside = {0.2095, 0}, .source_per_s = {-0.001 / 3600, 0}});
  ASSERT_TRUE(fitted) << fitted.error().what;
  EXPECT_NEAR(fitted->per_h.value, 0.05, 1e-5);
  EXPECT_NEAR(fitted->end_fraction, 0.2095 - 0.001 / 0.05, 1e-5);
  ASSERT_TRUE(fitted->without_source_per_h);
  EXPECT_NEAR(*fitted->without_source_per_h, 0.05 - 0.001 / (0.2095 - 0.036), 5e-4);
}

TEST(AirChange, WidensForWhatIsCommonToAllReadings) {
  const AiredRoom room;
  const auto u_with = [&](AirChangeTest test) {
    test.outside.value = room.outside;
    const auto result = measure_air_change(room.series(30), test);
    return result ? result->per_h.u : 0.0;
  };
  EXPECT_GT(u_with({.outside = {0, 30e-6}}), 1.5 * u_with({}));
  EXPECT_GT(u_with({.source_per_s = {0, 50e-6 / 3600}}), 1.5 * u_with({}));
}

TEST(AirChange, RefusesWhatItCannotJudge) {
  const AiredRoom room;
  const AirChangeTest test{.outside = {room.outside, 0}};
  auto samples = room.series(30);
  EXPECT_EQ(fault_of({samples.begin(), samples.begin() + 7}, test), AirChangeFault::too_few);
  auto broken = samples;
  broken[3].fraction.value = NAN;
  EXPECT_EQ(fault_of(broken, test), AirChangeFault::not_finite);
  EXPECT_EQ(fault_of(samples, {.outside = {NAN, 0}}), AirChangeFault::not_finite);
  auto late = samples;
  late.back().at += std::chrono::minutes{15};
  EXPECT_EQ(fault_of(late, test), AirChangeFault::gap);
  std::swap(samples[4], samples[5]);
  EXPECT_EQ(fault_of(samples, test), AirChangeFault::not_in_order);
  EXPECT_EQ(fault_of(AiredRoom{.first = 430e-6}.series(30), test), AirChangeFault::no_difference);
}

TEST(AirChange, RefusesARoomThatDoesNotApproachOutdoorAirBeyondDoubt) {
  const AirChangeTest test{.outside = {420e-6, 0}};
  // 1.3 ppm in half an hour; 31 readings of 5 ppm tell their mean to 0.9 ppm, and a slope over it less well.
  EXPECT_EQ(fault_of(AiredRoom{.per_h = 0.001}.series(30), test), AirChangeFault::not_approaching);
  EXPECT_TRUE(measure_air_change(AiredRoom{.per_h = 0.001, .u = 0.05e-6}.series(30), test));
  EXPECT_EQ(fault_of(AiredRoom{.per_h = 0.0, .source_per_s = 1e-7}.series(30), test), AirChangeFault::not_approaching);
}

// As for the leak test: 1000 rooms, a standard deviation of 6.9, five of them to each side.
TEST(AirChange, IntervalsHoldTheTruthInNineteenOfTwentyRooms) {
  const auto seed = drawn_seed();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937_64 random{seed};
  const auto between = [&](double low, double high) {
    return std::uniform_real_distribution<double>{low, high}(random);
  };
  std::normal_distribution<double> normal;
  int held = 0;
  for (int i = 0; i < 1000; ++i) {
    const AirChangeTest truth{.outside = {0.2095, between(0, 0.001)}, .source_per_s = {-2e-7, between(0, 5e-8)}};
    const AiredRoom room{.per_h = between(0.1, 1),
                         .first = between(0.01, 0.1),
                         .outside = 0.2095,
                         .source_per_s = -2e-7,
                         .u = between(0.0002, 0.002)};
    auto believed = truth;
    believed.outside.value += truth.outside.u * normal(random);
    believed.source_per_s.value += truth.source_per_s.u * normal(random);
    const auto result = measure_air_change(room.series(60, &random), believed);
    ASSERT_TRUE(result) << result.error().what;
    held += result->per_h_95.covers(room.per_h) ? 1 : 0;
  }
  EXPECT_GE(held, 950 - 35);
  EXPECT_LE(held, 950 + 35);
}

} // namespace oxherd::control::air_change_test
