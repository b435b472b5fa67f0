#include "alarms/rules/time_to_limit.hpp"

#include <random>

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_forecast_test {

using namespace alarms;
using namespace std::chrono_literals;

/// A cell polled once a second; percent oxygen, minutes.
struct Cell {
  TimeToLimit rule{{Direction::low, 10.0, 2.0, 0s, 0s}, Direction::low, 19.5, 60s};
  TimeToLimitState state{};
  Monotonic now = 100s;
  double value = 20.9;
  double expanded = 0.0;

  Decision sample(const Channel& channel) {
    const auto step = next(rule, state, {.channels = {&channel, 1}}, now);
    state = step.state;
    EXPECT_EQ(next(rule, state, {.channels = {&channel, 1}}, now).state, state);
    return step.decision;
  }
  Decision change(Monotonic time, double per_minute) {
    Decision decision = Decision::hold;
    for (const Monotonic end = now + time; now < end && decision == Decision::hold;) {
      now += 1s;
      value += per_minute / 60.0;
      decision = sample({Quality::good, value, expanded, now});
    }
    return decision;
  }
  [[nodiscard]] std::optional<Channel> shown() const {
    const Channel channel{Quality::good, value, expanded, now};
    return value_of(rule, state, {.channels = {&channel, 1}});
  }
};

TEST(TimeToLimit, TripsWhenTheTimeLeftIsTheLimit) {
  Cell c;
  EXPECT_EQ(c.change(20min, -0.06), Decision::appears);
  EXPECT_NEAR((c.value - 19.5) / 0.06, 10.0, 1.0 / 60.0); // within one sample
  EXPECT_LE((c.value - 19.5) / 0.06, 10.0 + 1e-9);
  ASSERT_TRUE(c.shown());
  EXPECT_NEAR(c.shown()->value, (c.value - 19.5) / 0.06, 1e-6);
}

TEST(TimeToLimit, TakesTheUnfavourableEndOfTheValue) {
  Cell sure, unsure;
  unsure.expanded = 0.3; // five minutes of this fall
  sure.change(20min, -0.06);
  unsure.change(20min, -0.06);
  EXPECT_NEAR(unsure.value - sure.value, 0.3, 0.06 / 60.0 + 1e-9);
  EXPECT_NEAR(unsure.shown()->value - unsure.shown()->expanded, 10.0, 1.0 / 60.0);
}

TEST(TimeToLimit, OfAHighLimitIsTheMirrorImage) {
  Cell c;
  c.rule.approached_from = Direction::high;
  c.rule.reached = 23.5;
  EXPECT_EQ(c.change(60min, 0.06), Decision::appears);
  EXPECT_NEAR((23.5 - c.value) / 0.06, 10.0, 1.0 / 60.0);
}

TEST(TimeToLimit, AValueThatStandsOrGoesAwayHasNoForecast) {
  Cell c;
  EXPECT_EQ(c.change(10min, 0.0), Decision::hold);
  EXPECT_FALSE(c.shown());
  EXPECT_EQ(c.change(10min, 1.0), Decision::hold);
  EXPECT_FALSE(c.shown());
}

TEST(TimeToLimit, AValueBeyondTheLimitHasNoTimeLeftWhateverItsRate) {
  Cell c;
  c.value = 19.25;
  EXPECT_EQ(c.change(61s, 0.0), Decision::appears);
  EXPECT_EQ(c.shown()->value, 0.0);
  Cell by_guard_band;
  by_guard_band.value = 19.75;
  by_guard_band.expanded = 0.25;
  EXPECT_EQ(by_guard_band.change(61s, 0.0), Decision::appears);
}

// As for the rate of fall: 1000 windows, 5 of them expected to look like an approach, standard deviation 2.2.
TEST(TimeToLimit, NoiseIsNoApproach) {
  std::mt19937 random{9};
  std::normal_distribution<double> noise{0.0, 0.02};
  int trips = 0, near = 0;
  for (int trial = 0; trial < 1000; ++trial) {
    Cell c;
    Channel channel{Quality::good};
    for (int i = 0; i <= 60; ++i) {
      c.now += 1s;
      channel.value = 19.6 + noise(random);
      channel.taken = c.now;
      if (c.sample(channel) == Decision::appears) ++trips;
    }
    const auto f = value_of(c.rule, c.state, {.channels = {&channel, 1}});
    if (f && f->value - f->expanded <= 10.0) ++near;
  }
  EXPECT_GT(near, 100); // the unfavourable end of the rate is often that fast
  EXPECT_LE(trips, 14);
}

TEST(TimeToLimit, EndsWhenTheTimeLeftIsBeyondTheDeadband) {
  Cell c;
  c.change(20min, -0.06);
  ASSERT_EQ(c.state.phase, Phase::present);
  EXPECT_EQ(c.change(10min, 0.0), Decision::ends);
}

TEST(TimeToLimit, HoldsItsDecisionWithoutARate) {
  Cell c;
  c.change(20min, -0.06);
  ASSERT_EQ(c.state.phase, Phase::present);
  for (int i = 0; i < 600; ++i) {
    c.now += 1s;
    ASSERT_EQ(c.sample({}), Decision::hold);
  }
  c.state = restored(c.rule, true, c.now);
  EXPECT_EQ(c.change(60s, 0.0), Decision::hold); // the window fills after the restart
  EXPECT_EQ(c.change(2s, 0.0), Decision::ends);
}

} // namespace oxherd::alarms_forecast_test
