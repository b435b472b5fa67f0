#include "control/loops/on_off.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include "tests/control/loops/plants.hpp"

namespace oxherd::control::on_off_test {

constexpr Monotonic any_time{0};

std::optional<bool> decided(const OnOff& rule, bool was_on, std::optional<double> value, double set_point = 20.0) {
  return next(rule, {was_on}, {value, set_point}, any_time).wanted;
}

TEST(OnOff, ThatRaisesSwitchesOnBelowTheBandAndOffAtTheSetPoint) {
  const OnOff heater{Effect::raises, 0.5, 0.0};
  EXPECT_EQ(decided(heater, false, 19.51), false);
  EXPECT_EQ(decided(heater, false, 19.5), true);
  EXPECT_EQ(decided(heater, true, 19.9), true);
  EXPECT_EQ(decided(heater, true, 20.0), false);
  EXPECT_EQ(decided(heater, true, 21.0), false);
}

TEST(OnOff, ThatLowersIsTheMirrorImage) {
  const OnOff scrubber{Effect::lowers, 0.5, 0.0};
  EXPECT_EQ(decided(scrubber, false, 20.49), false);
  EXPECT_EQ(decided(scrubber, false, 20.5), true);
  EXPECT_EQ(decided(scrubber, true, 20.1), true);
  EXPECT_EQ(decided(scrubber, true, 20.0), false);
}

TEST(OnOff, StopsBeforeTheSetPointWhereTheValueOvershoots) {
  const OnOff dosing{Effect::raises, 0.5, 0.25};
  EXPECT_EQ(decided(dosing, true, 19.74), true);
  EXPECT_EQ(decided(dosing, true, 19.75), false);
}

TEST(OnOff, SymmetricDrivesAsFarAcrossTheSetPoint) {
  EXPECT_EQ(decided(symmetric(Effect::raises, 0.5), true, 20.49), true);
  EXPECT_EQ(decided(symmetric(Effect::raises, 0.5), true, 20.5), false);
  EXPECT_EQ(decided(symmetric(Effect::raises, 0.5), false, 19.5), true);
}

TEST(OnOff, DecidesNothingWithoutANumberAndKeepsItsState) {
  const OnOff rule{Effect::raises, 0.5, 0.0};
  const double nan = std::numeric_limits<double>::quiet_NaN();
  for (const bool on : {false, true}) {
    const OnOffInput inputs[] = {{std::nullopt, 20.0}, {nan, 20.0}, {19.0, nan}, {-INFINITY, 20.0}};
    for (const auto& in : inputs) {
      const auto step = next(rule, {on}, in, any_time);
      EXPECT_EQ(step.wanted, std::nullopt);
      EXPECT_EQ(step.state, OnOffState{on});
    }
  }
}

TEST(OnOff, RefusesABandThatIsNone) {
  EXPECT_EQ(problem_of(OnOff{Effect::raises, 0.5, 0.0}), "");
  EXPECT_NE(problem_of(OnOff{Effect::raises, 0.0, 0.0}), "");
  EXPECT_NE(problem_of(OnOff{Effect::raises, 0.1, 0.2}), "");
  EXPECT_NE(problem_of(OnOff{Effect::raises, std::nan(""), 0.0}), "");
}

// Between two switchings the value must cross the whole band, whatever it does.
TEST(OnOff, NeverSwitchesBackInsideTheBand) {
  EXPECT_TRUE(rc::check([] {
    const double band = *rc::gen::inRange(1, 50) / 10.0;
    const double off_within = *rc::gen::inRange(-50, 50) / 10.0;
    const auto effect = *rc::gen::element(Effect::raises, Effect::lowers);
    const OnOff rule{effect, off_within + band, off_within};
    RC_ASSERT(problem_of(rule).empty());
    OnOffState state;
    std::optional<double> switched_at;
    for (const int tenths : *rc::gen::container<std::vector<int>>(rc::gen::inRange(-150, 150))) {
      const double value = tenths / 10.0;
      const auto step = next(rule, state, {value, 0.0}, any_time);
      RC_ASSERT(step.wanted.has_value());
      if (step.state.on != state.on) {
        if (switched_at) RC_ASSERT(std::abs(value - *switched_at) >= band - 1e-9);
        switched_at = value;
      }
      state = step.state;
    }
  }));
}

// The first-order plant runs towards u K = 10 or 0 with T = 100 s between the two ends of the band: both times are
// logarithms. An interval of 10 ms makes each of the two switchings late by that at most.
TEST(OnOff, SwingsAFirstOrderPlantWithThePeriodOfTheClosedForm) {
  const OnOff rule = symmetric(Effect::raises, 0.5);
  constexpr double interval_s = 0.01, time_constant_s = 100.0, set_point = 4.0;
  const double rises_s = time_constant_s * std::log((10.0 - 3.5) / (10.0 - 4.5));
  const double falls_s = time_constant_s * std::log(4.5 / 3.5);
  plants::FirstOrder plant{10.0, time_constant_s};
  OnOffState state;
  std::vector<double> switched_on_s;
  for (int i = 0; switched_on_s.size() < 4; ++i) {
    ASSERT_LT(i, 100'000);
    const bool was_on = state.on;
    state = next(rule, state, {plant.value, set_point}, plants::at_s(i * interval_s)).state;
    if (state.on && !was_on) switched_on_s.push_back(i * interval_s);
    plant.step(state.on ? 1.0 : 0.0, interval_s);
  }
  // Late switching lets the value run on; it comes back at about the same speed, so that it counts twice at most.
  EXPECT_NEAR(switched_on_s[3] - switched_on_s[2], rises_s + falls_s, 4 * interval_s);
}

} // namespace oxherd::control::on_off_test
