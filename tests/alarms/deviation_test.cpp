#include "alarms/rules/deviation.hpp"

#include <cmath>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_deviation_test {

using namespace alarms;
using namespace std::chrono_literals;

constexpr Deviation band{{Direction::high, 0.25, 0.125, 0s, 0s}, 2.0};

Decision after(const Deviation& rule, DeviationState& state, std::vector<Channel> channels, Scheme scheme,
               Monotonic t) {
  const auto step = next(rule, state, {.channels = channels, .scheme = scheme}, t);
  state = step.state;
  EXPECT_EQ(next(rule, state, {.channels = channels, .scheme = scheme}, t).state, state);
  return step.decision;
}

TEST(Deviation, TripsOnEitherSideAtTheLimitItself) {
  for (const double side : {-1.0, 1.0}) {
    DeviationState at, inside;
    EXPECT_EQ(after(band, at, {{Quality::good, 2.0 + side * 0.25}}, Scheme::one_of_one, 1s), Decision::appears);
    const double within = std::nextafter(2.0 + side * 0.25, 2.0);
    EXPECT_EQ(after(band, inside, {{Quality::good, within}}, Scheme::one_of_one, 1s), Decision::hold);
  }
}

TEST(Deviation, IsJudgedAtTheUnfavourableEndAndClearsBeyondTheDeadband) {
  DeviationState state;
  EXPECT_EQ(after(band, state, {{Quality::good, 1.875, 0.125}}, Scheme::one_of_one, 1s), Decision::appears);
  EXPECT_EQ(after(band, state, {{Quality::good, 1.875, 0.0}}, Scheme::one_of_one, 2s), Decision::hold);
  EXPECT_EQ(after(band, state, {{Quality::good, 1.9, 0.0}}, Scheme::one_of_one, 3s), Decision::ends);
}

TEST(Deviation, IsVotedOnChannelByChannel) {
  DeviationState state;
  const Channel high{Quality::good, 2.5}, low{Quality::good, 1.5}, there{Quality::good, 2.0};
  EXPECT_EQ(after(band, state, {high, there, there}, Scheme::two_of_three, 1s), Decision::hold);
  EXPECT_EQ(after(band, state, {high, low, there}, Scheme::two_of_three, 2s), Decision::appears);
  EXPECT_DOUBLE_EQ(value_of(band, state, {.channels = std::vector{high, low, there}})->value, 0.5);
}

TEST(Deviation, BadDataHoldsItAndSoDoesARestart) {
  DeviationState state = restored(band, true, 0s);
  EXPECT_EQ(after(band, state, {{}}, Scheme::one_of_one, 1s), Decision::hold);
  EXPECT_EQ(state.phase, Phase::present);
  EXPECT_EQ(after(band, state, {{Quality::good, 2.0}}, Scheme::one_of_one, 2s), Decision::ends);
}

RC_GTEST_PROP(Deviation, IsTheSameAsALowAndAHighLimitTogether, ()) {
  const double value = *rc::gen::inRange(0, 256) / 64.0;
  const double expanded = *rc::gen::inRange(0, 32) / 64.0;
  const Channel channel{Quality::good, value, expanded};
  DeviationState state;
  const bool trips = after(band, state, {channel}, Scheme::one_of_one, 1s) == Decision::appears;
  const auto beyond = [&](Direction direction, double limit) {
    return reach_of({direction, limit, 0.0, 0s, 0s}, channel) == Reach::beyond_limit;
  };
  RC_ASSERT(trips == (beyond(Direction::low, 1.75) || beyond(Direction::high, 2.25)));
}

} // namespace oxherd::alarms_deviation_test
