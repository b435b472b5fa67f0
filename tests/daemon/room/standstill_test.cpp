#include "daemon/room/standstill.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::standstill_test {

using namespace std::chrono_literals;
using alarms::Monotonic;

const config::StuckAfter learned{};

/// A point that is polled every two seconds.
struct Point {
  Standstill state;
  Monotonic now{0};

  void poll(double raw, Monotonic for_so_long = 2s) {
    for (const auto end = now + for_so_long; now < end; now += 2s) state = next(state, raw, now);
  }
  /// Numbers that stand for so long each, one after the other.
  void flicker(int numbers, Monotonic each = 2s) {
    for (int i = 0; i < numbers; ++i) poll(i % 2 == 0 ? 12.31 : 12.32, each);
  }
  bool stuck(const config::StuckAfter& settings = learned) const { return is_stuck(state, settings); }
};

TEST(AFlickeringInput, IsStuckAfterHalfAnHourOfOneNumber) {
  Point cell;
  cell.flicker(100);
  cell.poll(12.5, 30min);
  EXPECT_FALSE(cell.stuck()) << "from the first to the last of these are 29 min 58 s";
  cell.poll(12.5);
  EXPECT_TRUE(cell.stuck());
  EXPECT_EQ(stuck_text("oxygen", cell.state),
            "oxygen: stuck, the same number for 30 min (901 polls), and never for longer than 0 s before: look at the "
            "input, the device and any gateway that may answer from memory");
  cell.poll(12.6);
  EXPECT_FALSE(cell.stuck());
  cell.poll(12.6, 31min);
  EXPECT_TRUE(cell.stuck()) << "the time it was stuck is no measure for the next";
}

TEST(ACoarseInput, IsStuckOnlyWhenItStandsTenTimesLongerThanItEverDid) {
  Point coarse;
  coarse.flicker(40, 10min);
  coarse.poll(12.5, 90min);
  EXPECT_FALSE(coarse.stuck());
  coarse.poll(12.5, 12min);
  EXPECT_TRUE(coarse.stuck());
}

TEST(AnInput, IsNotJudgedBeforeItsWaysAreKnown) {
  Point fresh;
  fresh.flicker(20);
  fresh.poll(12.5, 24h);
  EXPECT_FALSE(fresh.stuck()) << "perhaps it is coarse and the room is quiet";
}

TEST(AnInput, IsStuckAfterTheTimeThatTheSettingsState) {
  Point fresh;
  fresh.poll(12.5, 601s);
  EXPECT_TRUE(fresh.stuck({10min, false}));
  EXPECT_FALSE(fresh.stuck({11min, false}));
  Point cell;
  cell.flicker(100);
  cell.poll(12.5, 24h);
  EXPECT_FALSE(cell.stuck({{}, true})) << "never";
}

TEST(ADeadCell, IsNotStuckSoThatItGoesOnTrippingLowOxygen) {
  Point cell;
  cell.flicker(100);
  cell.poll(0.0, 24h);
  EXPECT_FALSE(cell.stuck());
  EXPECT_FALSE(cell.stuck({10min, false}));
}

TEST(APause, BeginsAnew) {
  Point cell;
  cell.flicker(100);
  cell.poll(12.5, 29min);
  cell.now += 5min;
  cell.poll(12.5, 29min);
  EXPECT_FALSE(cell.stuck());
  cell.poll(12.5, 1min + 2s);
  EXPECT_TRUE(cell.stuck());
}

TEST(ASlowInput, NeedsSixtyPollsToo) {
  Standstill state;
  Monotonic now{0};
  for (int i = 0; i < 40; ++i, now += 60s) state = next(state, i, now);
  for (int i = 0; i < 60; ++i, now += 60s) {
    EXPECT_FALSE(is_stuck(state, learned));
    state = next(state, 100.0, now);
  }
  EXPECT_TRUE(is_stuck(state, learned));
}

} // namespace oxherd::daemon::standstill_test
