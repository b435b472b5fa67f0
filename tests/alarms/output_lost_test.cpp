#include "alarms/rules/output_lost.hpp"

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_output_lost_test {

using namespace alarms;
using namespace std::chrono_literals;

struct Horn {
  OutputLost rule{};
  OutputLostState state{};
  Decision see(Monotonic now, std::optional<bool> confirmed) {
    const auto step = next(rule, state, {.outputs_confirmed = confirmed}, now);
    state = step.state;
    EXPECT_EQ(next(rule, state, {.outputs_confirmed = confirmed}, now).state, state);
    return step.decision;
  }
};

TEST(OutputLost, AppearsAtOnceAndEndsWithTheConfirmation) {
  Horn horn;
  EXPECT_EQ(horn.see(1s, true), Decision::hold);
  EXPECT_EQ(horn.see(2s, false), Decision::appears);
  EXPECT_EQ(horn.see(3s, false), Decision::hold);
  EXPECT_EQ(horn.see(4s, true), Decision::ends);
}

TEST(OutputLost, WaitsForTheDelaysThatItIsGiven) {
  Horn horn{{2s, 5s}};
  EXPECT_EQ(horn.see(0s, false), Decision::hold);
  EXPECT_EQ(horn.see(1s, true), Decision::hold) << "confirmed in time: nothing was lost";
  EXPECT_EQ(horn.see(2s, false), Decision::hold);
  EXPECT_EQ(horn.see(4s, false), Decision::appears);
  EXPECT_EQ(horn.see(5s, true), Decision::hold);
  EXPECT_EQ(horn.see(10s, true), Decision::ends);
}

TEST(OutputLost, WhatIsNotKnownYetStartsNothingAndEndsNothing) {
  Horn horn{{2s, 0s}};
  EXPECT_EQ(horn.see(0s, {}), Decision::hold);
  EXPECT_EQ(horn.see(1000s, {}), Decision::hold);
  EXPECT_EQ(horn.see(1001s, false), Decision::hold);
  EXPECT_EQ(horn.see(1003s, {}), Decision::appears) << "it was lost and nobody says otherwise";
  EXPECT_EQ(horn.see(5000s, {}), Decision::hold);
  EXPECT_EQ(horn.state.phase, Phase::present);
}

TEST(OutputLost, ARestartKeepsIt) {
  EXPECT_EQ(restored(OutputLost{}, true, 7s), (OutputLostState{Phase::present, 7s}));
  EXPECT_EQ(restored(OutputLost{}, false, 7s), (OutputLostState{Phase::clear, 7s}));
}

TEST(OutputLost, TakesTheWholeWayOfAnAlarm) {
  const Alarm alarm{OutputLost{}, {.priority = Priority::high, .safety = true, .latching = false}};
  auto state = initial(alarm, 0s);
  const auto see = [&](Monotonic now, bool confirmed) {
    state = evaluate(alarm, std::move(state), {.outputs_confirmed = confirmed}, now).state;
    return shown(state.standing);
  };
  EXPECT_EQ(see(1s, true), State::normal);
  EXPECT_EQ(see(2s, false), State::unacknowledged);
  EXPECT_FALSE(act(alarm, state, {Act::shelve, 60s, "noisy"}, 3s)) << "safety class is never shelved";
  EXPECT_EQ(see(4s, true), State::returned_to_normal_unacknowledged) << "it does not latch";
}

} // namespace oxherd::alarms_output_lost_test
