#include "alarms/rules/rate_of_fall.hpp"

#include <random>

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_rate_test {

using namespace alarms;
using namespace std::chrono_literals;

/// A cell polled once a second. Numbers are percent oxygen, rates percent per minute.
struct Cell {
  RateOfFall rule{{Direction::high, 0.5, 0.125, 10s, 30s}, 60s};
  RateOfFallState state{};
  Monotonic now = 100s;
  double value = 20.0;

  Decision sample(Channel channel, bool continuous = true) {
    channel.taken = now;
    const auto after =
        next(rule, state, {.channels = {&channel, 1}, .new_sample = true, .continuous = continuous}, now);
    state = after.state;
    const auto again =
        next(rule, state, {.channels = {&channel, 1}, .new_sample = true, .continuous = continuous}, now);
    EXPECT_EQ(again.state, state); // the second time changes nothing
    EXPECT_EQ(again.decision, Decision::hold);
    return after.decision;
  }
  /// Falls for a time, and returns the last decision that was not hold.
  Decision fall(Monotonic time, double per_minute) {
    Decision decision = Decision::hold;
    for (const Monotonic end = now + time; now < end;) {
      now += 1s;
      value -= per_minute / 60.0;
      if (const auto d = sample({Quality::good, value}); d != Decision::hold) decision = d;
    }
    return decision;
  }
};

TEST(RateOfFall, TripsWhenTheFallPerMinuteIsTheLimitAndNotBelow) {
  Cell at{.rule = {{Direction::high, 0.5, 0.125, 0s, 0s}, 60s}}, below = at;
  at.sample({Quality::good, at.value});
  below.sample({Quality::good, below.value});
  EXPECT_EQ(at.fall(60s, 0.5 + 1e-9), Decision::appears);
  EXPECT_EQ(below.fall(10min, 0.5 - 1e-9), Decision::hold);
}

TEST(RateOfFall, WaitsForAFullWindowAndItsOnDelay) {
  Cell c;
  c.sample({Quality::good, c.value});
  EXPECT_EQ(c.fall(69s, 2.0), Decision::hold);
  EXPECT_EQ(c.fall(1s, 2.0), Decision::appears);
}

TEST(RateOfFall, ClearsBelowLimitLessDeadbandAfterItsOffDelay) {
  Cell c;
  c.fall(5min, 1.0);
  ASSERT_EQ(c.state.phase, Phase::present);
  EXPECT_EQ(c.fall(10min, 0.45), Decision::hold); // inside the deadband
  EXPECT_EQ(c.fall(10min, 0.30), Decision::ends);
}

TEST(RateOfFall, ARiseIsNoFall) {
  Cell c;
  EXPECT_EQ(c.fall(10min, -3.0), Decision::hold);
  EXPECT_EQ(c.state.phase, Phase::clear);
}

// 1000 windows that do not overlap, each with one chance in 200 to look like a fall: 5 are expected with a standard
// deviation of 2.2, and four of these are allowed.
TEST(RateOfFall, NoiseWithoutAFallTripsNoMoreOftenThanItsSignificanceSays) {
  std::mt19937 random{7};
  std::normal_distribution<double> noise{0.0, 0.1};
  int beyond = 0, trips = 0;
  for (int trial = 0; trial < 1000; ++trial) {
    Cell c{.rule = {{Direction::high, 0.02, 0.005, 0s, 0s}, 60s}};
    for (int i = 0; i <= 60; ++i) {
      c.now += 1s;
      if (c.sample({Quality::good, 20.9 + noise(random)}) == Decision::appears) ++trips;
    }
    const auto shown = value_of(c.rule, c.state, {});
    if (shown->value + shown->expanded >= 0.02) ++beyond;
  }
  EXPECT_GT(beyond, 900); // the unfavourable end alone would trip nearly always
  EXPECT_LE(trips, 14);
}

TEST(RateOfFall, IsSeenThroughNoise) {
  Cell c;
  std::mt19937 random{8};
  std::normal_distribution<double> noise{0.0, 0.05};
  Decision decision = Decision::hold;
  for (int i = 0; i < 90 && decision == Decision::hold; ++i) {
    c.now += 1s;
    decision = c.sample({Quality::good, 20.9 - 1.0 * i / 60.0 + noise(random)});
  }
  EXPECT_EQ(decision, Decision::appears);
}

TEST(RateOfFall, ACalibrationMakesNoRate) {
  Cell c{.rule = {{Direction::high, 0.5, 0.125, 0s, 0s}, 60s}};
  c.fall(5min, 0.0);
  c.value -= 3.0;
  c.now += 1s;
  EXPECT_EQ(c.sample({Quality::good, c.value}, false), Decision::hold);
  EXPECT_EQ(c.fall(5min, 0.0), Decision::hold);
}

TEST(RateOfFall, WithoutARateTheDecisionIsHeldAndARunningDelayGoesOn) {
  Cell pending;
  pending.fall(65s, 2.0);
  ASSERT_EQ(pending.state.phase, Phase::pending);
  pending.now += 10s;
  EXPECT_EQ(pending.sample({}), Decision::appears); // the gas has killed the cell
  for (int i = 0; i < 3600; ++i) {
    pending.now += 1s;
    ASSERT_EQ(pending.sample({}), Decision::hold);
  }
  EXPECT_EQ(pending.state.phase, Phase::present);
}

TEST(RateOfFall, IsThatOfTheLowerOfTwoChannels) {
  RateOfFall rule{{Direction::high, 0.5, 0.0, 0s, 0s}, 60s};
  RateOfFallState state;
  Decision decision = Decision::hold;
  for (Monotonic t = 0s; t <= 60s; t += 1s) {
    const double fallen = std::chrono::duration<double, std::ratio<60>>{t}.count();
    const Channel channels[] = {{Quality::good, 20.9, 0.0, t}, {Quality::good, 20.8 - fallen, 0.0, t}};
    const auto step = next(rule, state, {.channels = channels, .scheme = Scheme::one_of_two}, t);
    state = step.state;
    decision = step.decision;
  }
  EXPECT_EQ(decision, Decision::appears);
  EXPECT_NEAR(value_of(rule, state, {})->value, 1.0, 1e-9);
}

TEST(RateOfFall, ARestartFillsTheWindowAnewAndKeepsWhatWasPresent) {
  const Alarm alarm{RateOfFall{{Direction::high, 0.5, 0.1, 0s, 0s}, 60s}, Annunciation{}};
  AlarmState state = restored(alarm, {.beneath = State::acknowledged, .present = true, .age = 1min}, 1000s);
  Channel level{Quality::good, 20.9};
  for (Monotonic t = 1000s; t <= 1060s; t += 1s) {
    EXPECT_EQ(shown(state.standing), State::acknowledged);
    level.taken = t;
    state = evaluate(alarm, state, {.channels = {&level, 1}}, t).state;
  }
  EXPECT_EQ(shown(state.standing), State::latched_acknowledged);
  EXPECT_EQ(restored(RateOfFall{}, false, 5s).phase, Phase::clear);
}

} // namespace oxherd::alarms_rate_test
