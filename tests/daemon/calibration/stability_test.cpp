#include "daemon/calibration/stability.hpp"

#include <cmath>
#include <cstdlib>
#include <limits>
#include <random>

#include <gtest/gtest.h>

namespace oxherd::daemon::stability_test {

constexpr SignalScale air{.scale_V = 0.0126};

unsigned seed_of_this_run() {
  const char* given = std::getenv("OXHERD_SEED");
  return given == nullptr ? std::random_device{}() : static_cast<unsigned>(std::stoul(given));
}

/// What a made-up cell does: a level, a slope, and noise that may have a memory. Relative figures are of 12.6 mV.
struct MadeUp {
  double level_V = 0.0126;
  double slope_per_minute = 0.0;
  double settling = 0.0; ///< how far it starts above its level, relative
  double settling_s = 60.0;
  double noise = 0.0;  ///< standard deviation, relative
  double memory = 0.0; ///< correlation of neighbouring samples
  double seconds = 120.0;
  double every_s = 1.0;
};

std::vector<StabilitySample> make(const MadeUp& cell, std::mt19937& random) {
  std::normal_distribution<double> normal;
  std::vector<StabilitySample> samples;
  double noise = normal(random);
  for (double t = 0.0; t <= cell.seconds; t += cell.every_s) {
    noise = cell.memory * noise + std::sqrt(1.0 - cell.memory * cell.memory) * normal(random);
    const double change = cell.slope_per_minute * t / 60.0 + cell.settling * std::exp(-t / cell.settling_s);
    samples.push_back({.seconds = 5000.0 + t,
                       .signal_V = cell.level_V + 0.0126 * (change + cell.noise * noise),
                       .temperature_K = 294.15,
                       .pressure_Pa = 99800.0,
                       .humidity = 0.45});
  }
  return samples;
}

std::vector<StabilitySample> make(const MadeUp& cell) {
  std::mt19937 random{7};
  return make(cell, random);
}

std::string joined(const std::vector<std::string>& sentences) {
  std::string all;
  for (const auto& sentence : sentences) all += sentence + "; ";
  return all;
}

/// The share of made-up windows that pass.
double passing(const MadeUp& cell, std::mt19937& random, int windows) {
  int passed = 0;
  for (int i = 0; i < windows; ++i) passed += judge_stability(make(cell, random), air).evidence.stable ? 1 : 0;
  return static_cast<double>(passed) / windows;
}

TEST(Stability, AcceptsALevelSignalWithOrdinaryNoise) {
  const auto verdict = judge_stability(make({.noise = 0.0005}), air);
  EXPECT_TRUE(verdict.evidence.stable) << joined(verdict.waiting_for);
  EXPECT_TRUE(verdict.waiting_for.empty());
  EXPECT_TRUE(verdict.cautions.empty()) << joined(verdict.cautions);
  EXPECT_FALSE(verdict.seconds_left);
  EXPECT_EQ(verdict.evidence.samples, 121);
  EXPECT_EQ(verdict.evidence.seconds, 120.0);
  EXPECT_NEAR(verdict.evidence.scatter, 0.0005, 0.0001);
  // Standard error of a slope over n even samples: sd sqrt(12 / n) / span, here 0.00008 a minute.
  EXPECT_NEAR(verdict.evidence.u_slope_per_minute, 0.0005 * std::sqrt(12.0 / 121.0) / 2.0, 0.00002);
  EXPECT_EQ(verdict.pressure_range_Pa, 0.0);
}

TEST(Stability, SaysHowFastTheSignalStillFalls) {
  const auto verdict = judge_stability(make({.slope_per_minute = -0.0042, .noise = 0.0002}), air);
  EXPECT_FALSE(verdict.evidence.stable);
  EXPECT_EQ(joined(verdict.waiting_for), "the signal still falls 0.42 %/min (at most 0.1 %/min); ");
  EXPECT_FALSE(verdict.seconds_left) << "a straight ramp does not tell when it ends";
}

TEST(Stability, SaysHowMuchOfTheWindowIsThere) {
  const auto verdict = judge_stability(make({.noise = 0.0002, .seconds = 40.0}), air);
  EXPECT_FALSE(verdict.evidence.stable);
  EXPECT_EQ(verdict.waiting_for.front(), "only 40 s of 120 s");
  EXPECT_EQ(verdict.seconds_left, 80.0);
  EXPECT_EQ(judge_stability({}, air).waiting_for.front(), "no sample yet");
}

TEST(Stability, AcceptsNoWindowShorterThanItsRule) {
  EXPECT_TRUE(judge_stability(make({.noise = 0.0002, .seconds = 120.0}), air).evidence.stable);
  EXPECT_FALSE(judge_stability(make({.noise = 0.0002, .seconds = 119.0}), air).evidence.stable);
}

TEST(Stability, AsksForEnoughSamples) {
  const auto few = judge_stability(make({.noise = 0.0001, .every_s = 10.0}), air);
  EXPECT_FALSE(few.evidence.stable);
  EXPECT_EQ(few.waiting_for.front(), "only 13 of 30 samples: poll the cell more often");
  EXPECT_TRUE(judge_stability(make({.noise = 0.0001, .every_s = 4.0}), air).evidence.stable);
}

TEST(Stability, RefusesAScatterBeyondItsLimit) {
  const auto verdict = judge_stability(make({.noise = 0.004}), air);
  EXPECT_FALSE(verdict.evidence.stable);
  EXPECT_EQ(verdict.waiting_for.front().rfind("the signal scatters by 0.4", 0), 0U) << joined(verdict.waiting_for);
}

// The scatter is within its limit and the slope is nothing, yet nothing is shown: that is not stable.
TEST(Stability, DoesNotTakeNoiseForLevel) {
  const auto verdict = judge_stability(make({.noise = 0.0015, .memory = 0.8}), air);
  EXPECT_LT(verdict.evidence.scatter, 0.002);
  EXPECT_FALSE(verdict.evidence.stable);
  EXPECT_NE(joined(verdict.waiting_for).find("not shown to be level"), std::string::npos)
      << joined(verdict.waiting_for);
}

TEST(Stability, LengthensItsWindowForANoisySignalOnly) {
  const auto noisy = judge_stability(make({.noise = 0.001, .memory = 0.8, .seconds = 300.0}), air);
  EXPECT_GT(noisy.evidence.seconds, 120.0);
  EXPECT_LE(noisy.evidence.seconds, 300.0);
  const auto quiet = judge_stability(make({.noise = 0.0002, .seconds = 300.0}), air);
  EXPECT_EQ(quiet.evidence.seconds, 120.0);
  EXPECT_TRUE(quiet.evidence.stable);
}

TEST(Stability, SaysHowFastTheTemperatureStillChanges) {
  auto samples = make({.noise = 0.0002});
  for (auto& sample : samples) sample.temperature_K = 290.0 + 0.35 * (sample.seconds - 5000.0) / 60.0;
  const auto verdict = judge_stability(samples, air);
  EXPECT_FALSE(verdict.evidence.stable);
  EXPECT_EQ(joined(verdict.waiting_for), "the temperature still rises 0.35 K/min (at most 0.2 K/min); ");
  EXPECT_NEAR(verdict.evidence.temperature_slope_K_per_minute, 0.35, 1e-9);
}

TEST(Stability, SaysThatNoThermometerLooked) {
  auto samples = make({.noise = 0.0002});
  for (auto& sample : samples) sample.temperature_K.reset();
  const auto without = judge_stability(samples, air);
  EXPECT_TRUE(without.evidence.stable);
  EXPECT_EQ(joined(without.cautions), "no thermometer: the temperature is not shown to be steady; ");
  for (std::size_t i = 0; i < samples.size(); i += 3) samples[i].temperature_K = 294.15;
  const auto now_and_then = judge_stability(samples, air);
  EXPECT_FALSE(now_and_then.evidence.stable);
  EXPECT_EQ(joined(now_and_then.waiting_for), "the temperature came with only 41 of 121 samples; ");
}

TEST(Stability, RefusesAHoleInTheSamples) {
  auto samples = make({.noise = 0.0002});
  samples.erase(samples.begin() + 50, samples.begin() + 70);
  const auto verdict = judge_stability(samples, air);
  EXPECT_FALSE(verdict.evidence.stable);
  EXPECT_EQ(joined(verdict.waiting_for), "a gap of 21 s between samples (at most 15 s); ");
}

TEST(Stability, ForgetsWhatLiesBeforeItsWindow) {
  auto samples = make({.noise = 0.0002, .seconds = 200.0});
  for (std::size_t i = 0; i < 60; ++i) samples[i].signal_V = 0.001; // the hose was not on yet
  EXPECT_TRUE(judge_stability(samples, air).evidence.stable);
}

TEST(Stability, RefusesSamplesThatAreNoSeries) {
  auto samples = make({.noise = 0.0002});
  samples[60].signal_V = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(joined(judge_stability(samples, air).waiting_for), "a sample is not a number; ");
  samples = make({.noise = 0.0002});
  std::swap(samples[60], samples[61]);
  EXPECT_EQ(joined(judge_stability(samples, air).waiting_for), "the samples are not in the order of time; ");
  EXPECT_FALSE(judge_stability(make({.noise = 0.0002}), {.scale_V = 0.0}).evidence.stable);
}

// In nitrogen 0.4 mV are left, with the same noise in volts as in air: 8 % of nothing much.
TEST(Stability, JudgesASignalNearZeroByTheSignalInAir) {
  const MadeUp nitrogen{.level_V = 0.0004, .noise = 0.0005};
  const auto verdict = judge_stability(make(nitrogen), air);
  EXPECT_TRUE(verdict.evidence.stable) << joined(verdict.waiting_for);
  EXPECT_NEAR(verdict.evidence.scatter, 0.001, 0.0002) << "relative to half the signal in air";
  MadeUp falling = nitrogen;
  falling.slope_per_minute = -0.001; // 0.02 % O2 a minute, a twentieth of the signal that is left
  EXPECT_FALSE(judge_stability(make(falling), air).evidence.stable);
}

TEST(Stability, CountsWhatACoarseInputCannotShow) {
  auto samples = make({});
  EXPECT_TRUE(judge_stability(samples, air).evidence.stable);
  EXPECT_EQ(judge_stability(samples, air).cautions.size(), 1U) << "all samples are alike";
  // One step of 0.01 mV may hide 0.04 %/min of 12.6 mV, one of 0.05 mV 0.2 %/min.
  EXPECT_TRUE(judge_stability(samples, {.scale_V = 0.0126, .resolution_V = 0.01e-3}).evidence.stable);
  EXPECT_FALSE(judge_stability(samples, {.scale_V = 0.0126, .resolution_V = 0.05e-3}).evidence.stable);
}

TEST(Stability, ForetellsWhenASettlingSignalWillBeLevel) {
  MadeUp cell{.settling = 0.05, .settling_s = 90.0, .noise = 0.0001, .seconds = 150.0};
  const auto early = judge_stability(make(cell), air);
  ASSERT_TRUE(early.seconds_left) << joined(early.waiting_for);
  double stable_at = 0.0;
  for (cell.seconds = 150.0; stable_at == 0.0 && cell.seconds < 1500.0; cell.seconds += 1.0)
    if (judge_stability(make(cell), air).evidence.stable) stable_at = cell.seconds;
  ASSERT_GT(stable_at, 150.0);
  EXPECT_NEAR(150.0 + *early.seconds_left, stable_at, 0.2 * stable_at);
}

// Schuirmann's test at a slope just at the limit passes 2.5 % of windows. Up to 3.7 % of 1500 windows were seen with
// correlated noise, whose correction is approximate. 1000 windows scatter by 0.6 %.
TEST(StabilityBySimulation, PassesFewSignalsWhoseSlopeIsAtTheLimit) {
  const unsigned seed = seed_of_this_run();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937 random{seed};
  for (const double memory : {0.0, 0.5, 0.8, 0.9}) {
    SCOPED_TRACE(memory);
    EXPECT_LT(passing({.slope_per_minute = 0.001, .noise = 0.0005, .memory = memory, .seconds = 300.0}, random, 1000),
              0.07);
  }
}

TEST(StabilityBySimulation, PassesHardlyAnySignalWithTwiceThePermittedSlope) {
  const unsigned seed = seed_of_this_run();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937 random{seed};
  for (const double memory : {0.0, 0.8})
    for (const double noise : {0.0005, 0.001, 0.0015}) {
      SCOPED_TRACE(memory);
      const MadeUp cell{.slope_per_minute = -0.002, .noise = noise, .memory = memory, .seconds = 300.0};
      EXPECT_LE(passing(cell, random, 500), 0.01);
    }
}

TEST(StabilityBySimulation, PassesNearlyEveryLevelSignal) {
  const unsigned seed = seed_of_this_run();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937 random{seed};
  for (const double memory : {0.0, 0.5, 0.8})
    for (const double noise : {0.0003, 0.001}) {
      SCOPED_TRACE(memory);
      EXPECT_GE(passing({.noise = noise, .memory = memory, .seconds = 300.0}, random, 300), 0.93);
    }
}

// The daemon asks every few seconds for a quarter of an hour: luck must not add up.
TEST(StabilityBySimulation, ResistsBeingAskedAgainAndAgain) {
  const unsigned seed = seed_of_this_run();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937 random{seed};
  int runs_that_passed = 0;
  constexpr int runs = 40;
  for (int run = 0; run < runs; ++run) {
    const auto samples = make({.slope_per_minute = 0.002, .noise = 0.0008, .memory = 0.7, .seconds = 900.0}, random);
    bool passed = false;
    for (std::size_t n = 30; n <= samples.size() && !passed; n += 10)
      passed = judge_stability(std::span{samples}.first(n), air).evidence.stable;
    runs_that_passed += passed ? 1 : 0;
  }
  EXPECT_LE(runs_that_passed, runs / 10);
}

} // namespace oxherd::daemon::stability_test
