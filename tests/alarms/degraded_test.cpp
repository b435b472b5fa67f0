#include "alarms/rules/degraded.hpp"

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_degraded_test {

using namespace alarms;
using namespace std::chrono_literals;
using enum VoteHealth;

struct Group {
  Degraded rule{10s, 5s, 72h};
  DegradedState state{};
  Decision see(Monotonic now, VoteHealth health) {
    const auto step = next(rule, state, {.vote_health = health}, now);
    state = step.state;
    EXPECT_EQ(next(rule, state, {.vote_health = health}, now).state, state);
    return step.decision;
  }
};

TEST(Degraded, AppearsAndEndsAfterItsDelaysByTheClock) {
  Group g;
  EXPECT_EQ(g.see(0s, degraded), Decision::hold);
  EXPECT_EQ(g.see(9999ms, degraded), Decision::hold);
  EXPECT_EQ(g.see(10s, degraded), Decision::appears);
  EXPECT_EQ(g.see(11s, full), Decision::hold);
  EXPECT_EQ(g.see(15999ms, full), Decision::hold);
  EXPECT_EQ(g.see(16s, full), Decision::ends);
}

TEST(Degraded, IsNotStartedByALostVoteAndStandsThroughOne) {
  Group g;
  for (Monotonic t = 0s; t < 100s; t += 1s) EXPECT_EQ(g.see(t, lost), Decision::hold);
  EXPECT_EQ(g.state.phase, Phase::clear);
  g.see(100s, degraded);
  EXPECT_EQ(g.see(105s, lost), Decision::hold); // the delay goes on
  EXPECT_EQ(g.see(110s, lost), Decision::appears);
  for (Monotonic t = 111s; t < 200s; t += 1s) EXPECT_EQ(g.see(t, lost), Decision::hold);
  EXPECT_EQ(g.state.phase, Phase::present);
}

TEST(Degraded, IsOverdueAfterTheTimePermittedAndNotAMomentBefore) {
  Group g;
  g.see(0s, degraded);
  g.see(10s, degraded);
  EXPECT_FALSE(is_overdue(g.rule, g.state, 72h + 10s - 1ms));
  EXPECT_TRUE(is_overdue(g.rule, g.state, 72h + 10s));
  g.see(72h + 11s, full);
  EXPECT_TRUE(is_overdue(g.rule, g.state, 72h + 12s)); // until the off-delay is over
  g.see(72h + 16s, full);
  EXPECT_FALSE(is_overdue(g.rule, g.state, 200h));
}

TEST(Degraded, AChannelThatComesBackForAMomentDoesNotRestartTheTimePermitted) {
  Group g;
  g.see(0s, degraded);
  g.see(10s, degraded);
  g.see(40h, full);
  g.see(40h + 4s, degraded);
  EXPECT_TRUE(is_overdue(g.rule, g.state, 72h + 10s));
}

TEST(Degraded, ARestartKeepsIt) {
  Group g;
  g.state = restored(g.rule, true, 100s);
  EXPECT_EQ(g.state, (DegradedState{Phase::present, 100s, 100s}));
  EXPECT_EQ(g.see(100s, degraded), Decision::hold);
  EXPECT_EQ(g.state.phase, Phase::present);
  EXPECT_EQ(restored(g.rule, false, 100s), (DegradedState{Phase::clear, 100s, {}}));
}

TEST(Degraded, HasNoNumber) {
  EXPECT_FALSE(value_of(Rule{Degraded{}}, RuleState{DegradedState{}}, {}));
  EXPECT_FALSE(limit_of(Rule{Degraded{}}));
}

} // namespace oxherd::alarms_degraded_test
