#include "alarms/regime.hpp"

#include <vector>

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms {
namespace {

constexpr Regime every_regime[] = {Regime::occupied, Regime::ventilated_before_entry, Regime::sealed_low_oxygen,
                                   Regime::enriched};

TEST(RegimeNames, AreReadBackAsTheyAreWritten) {
  for (const auto regime : every_regime) EXPECT_EQ(regime_named(name_of(regime)), regime);
  EXPECT_EQ(name_of(Regime::ventilated_before_entry), "ventilated-before-entry");
  EXPECT_EQ(regime_named("empty"), std::nullopt);
}

TEST(PeopleMayBeIn, EverywhereButInASealedRoomWithItsDoorClosed) {
  for (const auto regime : every_regime) {
    EXPECT_TRUE(people_may_be_in({regime, true})) << name_of(regime);
    EXPECT_EQ(people_may_be_in({regime, false}), regime != Regime::sealed_low_oxygen) << name_of(regime);
  }
}

// Every set of regimes, class, regime and door: 2^4 x 2 x 4 x 2 cases.
TEST(InForce, NeverLeavesOutASafetyAlarmWherePeopleMayBe) {
  int cases = 0;
  for (unsigned set = 0; set < 16; ++set) {
    std::vector<Regime> regimes;
    for (unsigned i = 0; i < 4; ++i)
      if ((set >> i & 1U) != 0) regimes.push_back(every_regime[i]);
    for (unsigned now = 0; now < 4; ++now)
      for (const bool seal_broken : {false, true}) {
        const Presence presence{every_regime[now], seal_broken};
        const bool listed = set == 0 || (set >> now & 1U) != 0;
        EXPECT_EQ(in_force(regimes, false, presence), listed) << "a door changes nothing for a process alarm";
        EXPECT_EQ(in_force(regimes, true, presence), listed || now != 2 || seal_broken);
        cases += 2;
      }
  }
  EXPECT_EQ(cases, 256);
}

constexpr Monotonic second{1000};

/// An alarm below 19.5 % with a delay of 3 s, and what 2 % does to it at a time.
struct LowOxygen {
  Alarm alarm{Limit{Direction::low, 0.195, 0.002, 3 * second, 10 * second}, {}};
  AlarmState state = initial(alarm, Monotonic{0});
  std::vector<Transition> seen;

  void at(int s, bool in_force) {
    const Channel channel{Quality::good, 0.02, 0.001};
    RuleInput in{{&channel, 1}};
    in.in_force = in_force;
    const auto followed = follow_regime(alarm, state, in_force, s * second);
    const auto step = evaluate(alarm, followed.state, in, s * second);
    state = step.state;
    seen = followed.transitions;
    seen.insert(seen.end(), step.transitions.begin(), step.transitions.end());
  }
};

TEST(AnAlarmThatIsNotInForce, JudgesNothingAndComesWithItsDelayOnceItIs) {
  LowOxygen low;
  for (int s = 0; s < 60; ++s) {
    low.at(s, false);
    ASSERT_EQ(shown(low.state.standing), State::normal);
  }
  for (int s = 60; s < 63; ++s) low.at(s, true);
  EXPECT_EQ(shown(low.state.standing), State::normal);
  low.at(63, true);
  EXPECT_EQ(shown(low.state.standing), State::unacknowledged);
}

TEST(AnAlarmThatIsNotInForce, KeepsWhatIsOwedForWhatItHasRaised) {
  LowOxygen low;
  for (int s = 0; s <= 3; ++s) low.at(s, true);
  ASSERT_EQ(shown(low.state.standing), State::unacknowledged);
  low.at(4, false); // the door is closed again: nobody has said yet that he has seen it
  EXPECT_EQ(shown(low.state.standing), State::latched_unacknowledged);
  ASSERT_EQ(low.seen.size(), 1U);
  EXPECT_EQ(low.seen[0].cause, Cause::returned);
}

TEST(AProcessAlarmThatIsNotInForce, IsSuppressedByDesignAndAnnouncedWhenThatEnds) {
  LowOxygen low;
  low.alarm.annunciation.safety = low.alarm.annunciation.latching = false;
  for (int s = 0; s <= 9; ++s) low.at(s, false);
  EXPECT_EQ(shown(low.state.standing), State::suppressed_by_design);
  EXPECT_TRUE(low.state.standing.present) << "it is judged beneath";
  low.at(10, true);
  EXPECT_EQ(shown(low.state.standing), State::unacknowledged);
  ASSERT_EQ(low.seen.size(), 1U);
  EXPECT_EQ(low.seen[0].cause, Cause::suppression);
}

TEST(ARoomThatIsNotMonitored, IsAnnouncedSoonerWherePeopleMayBe) {
  const NotMonitored rule{10 * second, 5 * second, 60 * second};
  const auto decided_after = [&](bool people) {
    RuleInput in;
    in.monitored = false;
    in.people_may_be_in = people;
    NotMonitoredState state = restored(rule, false, Monotonic{0});
    for (int s = 0; s <= 100; ++s) {
      state = next(rule, state, in, s * second).state;
      if (state.phase == Phase::present) return s;
    }
    return -1;
  };
  EXPECT_EQ(decided_after(true), 10);
  EXPECT_EQ(decided_after(false), 60);
}

} // namespace
} // namespace oxherd::alarms
