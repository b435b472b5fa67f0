// The test function of an alarm: a simulated condition that must never hide a real one.
#include <gtest/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_simulation_test {

using namespace alarms;
using namespace std::chrono_literals;

/// A latching low-oxygen alarm with an on-delay of 3 s and an off-delay of 10 s, fed by hand.
struct Bench {
  Alarm alarm{Limit{Direction::low, 19.5, 0.5, 3s, 10s}, {}};
  AlarmState state = initial(alarm, 0s);
  AlarmStep last{state, {}, {}, false};

  State at(Monotonic now, double oxygen = 20.9) {
    const Channel channel{Quality::good, oxygen, 0.0};
    last = evaluate(alarm, state, {{&channel, 1}, Scheme::one_of_one, true, true}, now);
    state = last.state;
    return shown(state.standing);
  }
  tl::expected<void, Refusal> person(Act what, Monotonic now, Monotonic duration = 0s) {
    auto step = act(alarm, state, {what, duration, "quarterly test"}, now);
    if (!step) return tl::unexpected(step.error());
    state = step->state;
    return {};
  }
  /// A test that begins at 10 s and is announced at 13 s.
  void announce_test(Monotonic duration = 60s) {
    ASSERT_TRUE(person(Act::test, 10s, duration));
    at(10s);
    ASSERT_EQ(at(13s), State::unacknowledged);
  }
};

TEST(AlarmTest, AnnouncesAfterTheOnDelayAlthoughTheAirIsFresh) {
  Bench b;
  ASSERT_TRUE(b.person(Act::test, 10s, 60s));
  EXPECT_EQ(b.at(10s), State::normal);
  EXPECT_EQ(b.at(12999ms), State::normal);
  EXPECT_EQ(b.at(13s), State::unacknowledged);
  EXPECT_TRUE(b.state.simulated);
  EXPECT_TRUE(sounds(b.state.standing, 13s));
  EXPECT_TRUE(drops_relay(b.state.standing));
  ASSERT_EQ(b.last.transitions.size(), 1U);
  EXPECT_EQ(b.last.transitions[0].cause, Cause::test);
}

TEST(AlarmTest, EndsByItsTimeAndLeavesTheLatchToAPerson) {
  Bench b;
  b.announce_test();
  ASSERT_TRUE(b.person(Act::acknowledge, 20s));
  EXPECT_EQ(b.at(69999ms), State::acknowledged);
  EXPECT_EQ(b.at(70s), State::latched_acknowledged);
  EXPECT_TRUE(b.last.test_ended);
  EXPECT_TRUE(b.state.simulated); // what is latched there is still the test's
  ASSERT_TRUE(b.person(Act::reset, 71s));
  EXPECT_EQ(b.at(71s), State::normal);
  EXPECT_FALSE(b.state.simulated);
}

TEST(AlarmTest, EndsWhenAPersonSaysSo) {
  Bench b;
  b.announce_test();
  ASSERT_TRUE(b.person(Act::end_test, 14s));
  EXPECT_EQ(b.at(14s), State::latched_unacknowledged);
  EXPECT_FALSE(b.person(Act::end_test, 15s)) << "there is none any more";
}

TEST(AlarmTest, ARealConditionEndsItAndIsAnnouncedAsNewAlthoughTheTestWasAcknowledged) {
  Bench b;
  b.announce_test(600s);
  ASSERT_TRUE(b.person(Act::acknowledge, 20s));
  EXPECT_EQ(b.at(30s, 18.0), State::acknowledged) << "its on-delay runs";
  EXPECT_EQ(b.at(33s, 18.0), State::unacknowledged);
  EXPECT_FALSE(b.state.simulated);
  EXPECT_TRUE(b.last.test_ended);
  ASSERT_EQ(b.last.transitions.size(), 1U);
  EXPECT_EQ(b.last.transitions[0].cause, Cause::condition);
  EXPECT_EQ(b.at(40s, 18.0), State::unacknowledged);
}

TEST(AlarmTest, ARealConditionIsJournaledAsNewEvenWhenNobodyHadAcknowledgedTheTest) {
  Bench b;
  b.announce_test(600s);
  b.at(30s, 18.0);
  EXPECT_EQ(b.at(33s, 18.0), State::unacknowledged);
  ASSERT_EQ(b.last.transitions.size(), 1U);
  EXPECT_EQ(b.last.transitions[0].from, State::unacknowledged);
  EXPECT_EQ(b.state.standing.since, 33s);
}

TEST(AlarmTest, ARealConditionAfterTheTestIsNoLongerSimulated) {
  Bench b;
  b.announce_test(20s);
  EXPECT_EQ(b.at(30s), State::latched_unacknowledged);
  b.at(40s, 18.0);
  EXPECT_EQ(b.at(43s, 18.0), State::unacknowledged);
  EXPECT_FALSE(b.state.simulated);
}

TEST(AlarmTest, ASuppressionEndsIt) {
  Bench b;
  b.announce_test();
  ASSERT_TRUE(b.person(Act::remove_from_service, 20s, 1h));
  EXPECT_EQ(b.at(21s), State::out_of_service);
  EXPECT_FALSE(b.state.test);
  EXPECT_FALSE(b.state.standing.present);
}

TEST(AlarmTest, ARealConditionBeneathASuppressionIsJournaledAsHiddenAndDatesNothingAnew) {
  Bench b;
  b.announce_test();
  ASSERT_TRUE(b.person(Act::acknowledge, 14s));
  b.at(20s, 18.0); // its on-delay runs
  ASSERT_TRUE(b.person(Act::remove_from_service, 22s, 1h));
  EXPECT_EQ(b.at(23s, 18.0), State::out_of_service);
  EXPECT_TRUE(b.last.transitions.empty()) << "nothing that is shown has changed";
  ASSERT_EQ(b.last.beneath.size(), 1U);
  EXPECT_EQ(b.last.beneath[0].from, State::acknowledged);
  EXPECT_EQ(b.last.beneath[0].to, State::unacknowledged);
  EXPECT_EQ(b.state.standing.since, 22s) << "out of service since then";
}

TEST(AlarmTest, ARealConditionCountsTowardsChatteringAndASimulatedOneDoesNot) {
  Bench b;
  for (const Monotonic start : {0s, 14s}) { // comes after 3 s, goes after 10 s more
    b.at(start, 18.0);
    b.at(start + 3s, 18.0);
    b.at(start + 3500ms);
    b.at(start + 13500ms);
  }
  ASSERT_TRUE(b.person(Act::acknowledge, 28s));
  ASSERT_TRUE(b.person(Act::reset, 28s));
  ASSERT_TRUE(b.person(Act::test, 29s, 60s));
  b.at(29s);
  EXPECT_EQ(b.at(32s), State::unacknowledged);
  EXPECT_FALSE(b.state.chatter.chattering) << "the third announcement is only a test";
  b.at(33s, 18.0);
  EXPECT_EQ(b.at(36s, 18.0), State::unacknowledged);
  EXPECT_TRUE(b.state.chatter.chattering) << "the third real one within a minute";
}

TEST(AlarmTest, IsRefusedWhereItWouldMisleadOrProveNothing) {
  Bench b;
  EXPECT_FALSE(b.person(Act::test, 10s, 3s)) << "no longer than the on-delay";
  EXPECT_FALSE(b.person(Act::test, 10s, 11min)) << "longer than permitted";
  ASSERT_TRUE(b.person(Act::test, 10s, 60s));
  EXPECT_FALSE(b.person(Act::test, 11s, 60s)) << "one at a time";
  Bench standing;
  standing.at(1s, 18.0);
  ASSERT_EQ(standing.at(4s, 18.0), State::unacknowledged);
  EXPECT_FALSE(standing.person(Act::test, 5s, 60s));
  Bench suppressed;
  ASSERT_TRUE(suppressed.person(Act::remove_from_service, 1s, 1h));
  EXPECT_FALSE(suppressed.person(Act::test, 2s, 60s));
}

} // namespace oxherd::alarms_simulation_test
