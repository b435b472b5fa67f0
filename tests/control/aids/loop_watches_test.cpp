#include "control/aids/loop_watches.hpp"

#include <cmath>
#include <functional>
#include <numbers>

#include <gtest/gtest.h>

#include "tests/control/aids/seeded.hpp"

namespace oxherd::control::loop_watches_test {

using std::numbers::pi;

Oscillation watched(const OscillationSettings& settings, double length_s, const std::function<double(double)>& error) {
  OscillationWatch watch{settings};
  for (int s = 0; s < length_s; ++s) watch.add({1.0 * s, 1.0, error(s), error(s + 1)});
  return watch.figures();
}

constexpr OscillationSettings of_600_s{.amplitude_least = 1.0, .period_s = 600};

std::function<double(double)> sine(double amplitude, double period_s) {
  return [=](double t_s) { return amplitude * std::sin(2 * pi * t_s / period_s + 0.3); };
}

TEST(OscillationWatch, TellsPeriodAndAmplitudeOfASine) {
  const auto o = watched(of_600_s, 60000, sine(2.0, 600));
  EXPECT_TRUE(o.oscillating);
  EXPECT_NEAR(o.period_s.value(), 600, 0.01);
  EXPECT_NEAR(o.amplitude.value(), 2.0, 1e-4);
  EXPECT_GT(o.regularity.value_or(1e9), 1000);
}

// A half wave counts from the area 2 a / omega on, which is that of a sine with amplitude a.
TEST(OscillationWatch, CountsHalfWavesThatAreLargeEnough) {
  EXPECT_EQ(watched(of_600_s, 60000, sine(0.999, 600)).loads, 0.0);
  EXPECT_GT(watched(of_600_s, 60000, sine(1.001, 600)).loads, 10.0);
  EXPECT_GT(watched(of_600_s, 60000, sine(0.501, 1200)).loads, 10.0); // half the amplitude for twice as long
}

// What counted fades over 50 periods, so that endless half waves add up to 1 / (1 - exp(-1 / 100)) = 100.5 of them.
TEST(OscillationWatch, ForgetsWithTime) {
  EXPECT_NEAR(watched(of_600_s, 600 * 500, sine(2.0, 600)).loads, 100.5, 1.1);
  const auto over =
      watched(of_600_s, 600 * 500, [](double t_s) { return t_s < 600 * 250 ? sine(2.0, 600)(t_s) : 0.0; });
  EXPECT_FALSE(over.oscillating); // 250 periods later exp(-5) is left
}

// Half waves are whole between two changes of sign: twelve of these make eleven.
TEST(OscillationWatch, IsAlarmedByTheEleventhLargeHalfWaveAndNotByTheTenth) {
  const auto after_changes = [](int changes) {
    return watched({.amplitude_least = 1, .period_s = 600, .remembered_periods = 1e9}, 300 * (changes - 1) + 100,
                   [](double t_s) { return 2.0 * std::sin(2 * pi * (t_s - 0.5) / 600); });
  };
  EXPECT_NEAR(after_changes(11).loads, 10.0, 1e-6);
  EXPECT_FALSE(after_changes(11).oscillating);
  EXPECT_NEAR(after_changes(12).loads, 11.0, 1e-6);
  EXPECT_TRUE(after_changes(12).oscillating);
}

TEST(OscillationWatch, CountsNoHalfWaveAcrossAnInterruption) {
  OscillationWatch watch{of_600_s};
  for (int s = 0; s < 60000; ++s) {
    if (s % 250 == 0) watch.interrupt(); // no half wave of 300 s is ever whole
    watch.add({1.0 * s, 1.0, sine(2.0, 600)(s), sine(2.0, 600)(s + 1)});
  }
  EXPECT_EQ(watch.figures().loads, 0.0);
}

TEST(OscillationWatch, DoesNotCallDisturbancesAnOscillation) {
  // One push in two hours that decays in ten minutes.
  const auto pushed = [](double t_s) { return 5.0 * std::exp(-std::fmod(t_s, 7200) / 600) - 0.02; };
  EXPECT_FALSE(watched(of_600_s, 7200 * 50, pushed).oscillating);
}

TEST(OscillationWatch, CallsHalfWavesOfAnyLengthIrregular) {
  const auto seed = drawn_seed();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937_64 random{seed};
  std::exponential_distribution<double> length{1.0 / 400};
  double until_s = 0, level = 3.0;
  const auto o = watched(of_600_s, 400000, [&](double t_s) {
    while (t_s > until_s) {
      until_s += length(random);
      level = -level;
    }
    return level;
  });
  ASSERT_TRUE(o.regularity);
  EXPECT_LT(*o.regularity, 1.0);
}

TEST(OscillationWatch, JudgesNothingBeforeItIsToldWhatMatters) {
  EXPECT_EQ(watched({.amplitude_least = 0, .period_s = 600}, 60000, sine(2.0, 600)).loads, 0.0);
  EXPECT_EQ(watched({.amplitude_least = 1, .period_s = 0}, 60000, sine(2.0, 600)).loads, 0.0);
}

/// A room of first order (gain 1, 600 s, dead time 30 s) under a PI controller, pushed once.
std::optional<double> idle_of(double gain, double integral_s, bool raises = true) {
  IdleWatch watch{{.noise = 0.002, .raises = raises}};
  std::vector<double> sent(30, 0.0);
  double value = 0.0, integral = 0.0;
  for (int s = 0; s < 7200; ++s) {
    const double error = -value;
    integral += gain * error / integral_s;
    const double output = gain * error + integral;
    sent.push_back(output);
    watch.add(s, raises ? output : -output, value);
    value += (sent[static_cast<std::size_t>(s)] + 1.0 - value) / 600;
  }
  return watch.index();
}

TEST(IdleWatch, TellsASluggishLoopFromAWellTunedOne) {
  const auto sluggish = idle_of(0.3, 600.0), brisk = idle_of(6.0, 200.0);
  ASSERT_TRUE(sluggish);
  ASSERT_TRUE(brisk);
  EXPECT_GT(*sluggish, 0.4);
  EXPECT_LT(*brisk, 0.2);
}

TEST(IdleWatch, IsTheSameForALoopThatWorksTheOtherWay) {
  EXPECT_EQ(idle_of(0.3, 600.0, true), idle_of(0.3, 600.0, false));
}

TEST(IdleWatch, SaysNothingOfWhatStandsStill) {
  IdleWatch watch{{.noise = 0.1}};
  for (int s = 0; s < 100; ++s) watch.add(s, s / 100.0, 0.05 * (s % 2));
  EXPECT_FALSE(watch.index());
}

} // namespace oxherd::control::loop_watches_test
