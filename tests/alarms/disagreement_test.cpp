#include "alarms/rules/disagreement.hpp"

#include <cmath>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_disagreement_test {

using namespace alarms;
using namespace std::chrono_literals;

Channel cell(double value, double expanded = 0.0) { return {Quality::good, value, expanded}; }

struct Cells {
  Disagreement rule{{Direction::high, 0.5, 0.125, 0s, 0s}};
  DisagreementState state{};
  Monotonic now = 0s;
  Decision see(const std::vector<Channel>& channels) {
    now += 1s;
    const auto step = next(rule, state, {.channels = channels, .scheme = Scheme::two_of_three}, now);
    state = step.state;
    EXPECT_EQ(next(rule, state, {.channels = channels, .scheme = Scheme::two_of_three}, now).state, state);
    return step.decision;
  }
};

TEST(Disagreement, TripsWhenTheSpreadIsTheLimitAndNotBelow) {
  EXPECT_EQ(Cells{}.see({cell(20.0), cell(20.25), cell(20.5)}), Decision::appears);
  EXPECT_EQ(Cells{}.see({cell(20.0), cell(20.25), cell(std::nextafter(20.5, 0.0))}), Decision::hold);
}

TEST(Disagreement, CountsOnlyWhenTheUncertaintiesCannotExplainIt) {
  // sqrt(0.3^2 + 0.4^2) = 0.5
  Cells c;
  EXPECT_EQ(c.see({cell(20.0, 0.375), cell(20.625, 0.5)}), Decision::hold); // 0.625 of spread, 0.625 of doubt
  EXPECT_EQ(c.see({cell(20.0, 0.375), cell(20.75, 0.5)}), Decision::appears);
  const auto shown = value_of(c.rule, c.state, {.channels = std::vector{cell(20.0, 0.375), cell(20.75, 0.5)}});
  EXPECT_DOUBLE_EQ(shown->value, 0.75);
  EXPECT_DOUBLE_EQ(shown->expanded, 0.625);
}

TEST(Disagreement, IsNotEndedByAWiderUncertainty) {
  Cells c;
  c.see({cell(20.0), cell(21.0)});
  EXPECT_EQ(c.see({cell(20.0, 3.0), cell(21.0, 3.0)}), Decision::hold);
  EXPECT_EQ(c.state.phase, Phase::present);
  EXPECT_EQ(c.see({cell(20.0), cell(20.375)}), Decision::hold); // limit less deadband
  EXPECT_EQ(c.see({cell(20.0), cell(20.25)}), Decision::ends);
}

TEST(Disagreement, NeedsTwoGoodChannels) {
  Cells c;
  EXPECT_EQ(c.see({cell(20.0), {}, {}}), Decision::hold);
  EXPECT_EQ(c.see({{}, cell(20.0), cell(21.0)}), Decision::appears);
  for (int i = 0; i < 100; ++i) EXPECT_EQ(c.see({{}, cell(20.0), {}}), Decision::hold);
  EXPECT_EQ(c.state.phase, Phase::present);
}

TEST(Disagreement, WaitsForItsDelays) {
  Cells c{.rule = {{Direction::high, 0.5, 0.125, 3s, 2s}}};
  for (int i = 0; i < 3; ++i) EXPECT_EQ(c.see({cell(20.0), cell(21.0)}), Decision::hold);
  EXPECT_EQ(c.see({cell(20.0), cell(21.0)}), Decision::appears);
  for (int i = 0; i < 2; ++i) EXPECT_EQ(c.see({cell(20.0), cell(20.0)}), Decision::hold);
  EXPECT_EQ(c.see({cell(20.0), cell(20.0)}), Decision::ends);
}

TEST(Disagreement, ARestartKeepsItUntilTheChannelsAgree) {
  Cells c;
  c.state = restored(c.rule, true, 0s);
  EXPECT_EQ(c.see({{}, {}, {}}), Decision::hold);
  EXPECT_EQ(c.state.phase, Phase::present);
  EXPECT_EQ(c.see({cell(20.0), cell(20.0)}), Decision::ends);
}

RC_GTEST_PROP(Disagreement, DependsNeitherOnTheOrderOfTheChannelsNorOnAnOffset, ()) {
  const auto value = [] { return *rc::gen::inRange(0, 64) / 32.0; };
  std::vector<Channel> channels{cell(value(), value()), cell(value(), value()), cell(value(), value())};
  const auto decision = Cells{}.see(channels);
  std::rotate(channels.begin(), channels.begin() + *rc::gen::inRange(0, 3), channels.end());
  const double offset = *rc::gen::inRange(0, 64) / 32.0;
  // Channels with the same value and other uncertainties may change places.
  RC_PRE(channels[0].value != channels[1].value && channels[1].value != channels[2].value &&
         channels[0].value != channels[2].value);
  for (auto& c : channels) c.value += offset;
  RC_ASSERT(Cells{}.see(channels) == decision);
}

} // namespace oxherd::alarms_disagreement_test
