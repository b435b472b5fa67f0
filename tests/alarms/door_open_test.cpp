#include "alarms/rules/door_open.hpp"

#include <gtest/gtest.h>

#include "alarms/alarm.hpp"

namespace oxherd::alarms_door_test {

using namespace alarms;
using namespace std::chrono_literals;

struct Door {
  DoorOpen rule{120s, 0s};
  DoorOpenState state{};
  Decision see(Monotonic now, std::optional<bool> open) {
    const auto step = next(rule, state, {.door_open = open}, now);
    state = step.state;
    EXPECT_EQ(next(rule, state, {.door_open = open}, now).state, state);
    return step.decision;
  }
};

TEST(DoorOpen, AppearsWhenTheTimePermittedIsOverAndEndsWithTheDoorClosed) {
  Door d;
  EXPECT_EQ(d.see(1s, true), Decision::hold);
  EXPECT_EQ(d.see(121s - 1ms, true), Decision::hold);
  EXPECT_EQ(d.see(121s, true), Decision::appears);
  EXPECT_EQ(d.see(122s, false), Decision::ends);
}

TEST(DoorOpen, AClosedDoorStartsTheTimeAnew) {
  Door d;
  d.see(0s, true);
  d.see(119s, false);
  d.see(120s, true);
  EXPECT_EQ(d.see(239s, true), Decision::hold);
  EXPECT_EQ(d.see(240s, true), Decision::appears);
}

TEST(DoorOpen, ALostInputStartsNothingAndEndsNothing) {
  Door d;
  EXPECT_EQ(d.see(0s, {}), Decision::hold);
  EXPECT_EQ(d.see(1000s, {}), Decision::hold);
  d.see(1001s, true);
  EXPECT_EQ(d.see(1121s, {}), Decision::appears);
  EXPECT_EQ(d.see(5000s, {}), Decision::hold);
  EXPECT_EQ(d.state.phase, Phase::present);
}

TEST(DoorOpen, ARestartKeepsIt) {
  EXPECT_EQ(restored(DoorOpen{}, true, 7s), (DoorOpenState{Phase::present, 7s}));
  EXPECT_EQ(restored(DoorOpen{}, false, 7s), (DoorOpenState{Phase::clear, 7s}));
}

} // namespace oxherd::alarms_door_test
