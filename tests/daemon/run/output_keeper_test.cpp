// What outputs show, and when they are written again.
#include <gtest/gtest.h>

#include "daemon/run/output_keeper.hpp"
#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::output_keeper_test {

using namespace std::chrono_literals;

config::Output relay() { return {"beacon", "plant", 31, 1000ms, config::AlarmRelay{"cryo-annexe", 4}}; }
config::Output heartbeat() { return {"heartbeat", "plant", 31, 1000ms, config::Heartbeat{10}}; }

annexe_test::Annexe annexe_with(std::vector<config::Output> outputs) {
  annexe_test::Annexe annexe;
  annexe.settings.outputs = std::move(outputs);
  annexe.start();
  return annexe;
}

TEST(OutputKeeper, WritesTheRelayTrippedUntilTheRoomIsMonitored) {
  auto annexe = annexe_with({relay()});
  OutputKeeper keeper{annexe.settings};
  const auto first = keeper.due(*annexe.site, annexe.now);
  ASSERT_EQ(first.size(), 1U);
  EXPECT_EQ(first[0].bus, "plant");
  EXPECT_TRUE(first[0].what.is_coil);
  EXPECT_EQ(first[0].what.address, 4);
  EXPECT_EQ(first[0].what.value, 0) << "off is tripped";
  static_cast<void>(annexe.seconds(2));
  const auto healthy = keeper.due(*annexe.site, annexe.now);
  ASSERT_EQ(healthy.size(), 1U);
  EXPECT_EQ(healthy[0].what.value, 1);
}

TEST(OutputKeeper, TripsTheRelayAtOnceAndNotAtItsNextTurn) {
  auto annexe = annexe_with({relay()});
  OutputKeeper keeper{annexe.settings};
  static_cast<void>(annexe.seconds(2));
  static_cast<void>(annexe.site->take(annexe.cell_poll(0, 0.18)));
  static_cast<void>(annexe.pass(2900ms));
  ASSERT_EQ(keeper.due(*annexe.site, annexe.now)[0].what.value, 1) << "written just now, next turn in a second";
  static_cast<void>(annexe.pass(100ms));
  const auto trip = keeper.due(*annexe.site, annexe.now);
  ASSERT_EQ(trip.size(), 1U);
  EXPECT_EQ(trip[0].what.value, 0);
}

TEST(OutputKeeper, WritesAgainEveryPeriodThoughNothingChanged) {
  auto annexe = annexe_with({relay()});
  OutputKeeper keeper{annexe.settings};
  EXPECT_EQ(keeper.due(*annexe.site, annexe.now).size(), 1U);
  EXPECT_EQ(keeper.due(*annexe.site, annexe.now + 999ms).size(), 0U);
  EXPECT_EQ(keeper.due(*annexe.site, annexe.now + 1000ms).size(), 1U);
}

TEST(OutputKeeper, CountsCompletedEvaluationsInTheHeartbeat) {
  auto annexe = annexe_with({heartbeat()});
  OutputKeeper keeper{annexe.settings};
  static_cast<void>(annexe.pass(250ms));
  static_cast<void>(annexe.pass(250ms));
  const auto beat = keeper.due(*annexe.site, annexe.now);
  ASSERT_EQ(beat.size(), 1U);
  EXPECT_FALSE(beat[0].what.is_coil);
  EXPECT_EQ(beat[0].what.address, 10);
  EXPECT_EQ(beat[0].what.value, 2);
  EXPECT_EQ(keeper.due(*annexe.site, annexe.now + 1s)[0].what.value, 2) << "no evaluation, no new beat";
}

TEST(OutputKeeper, TripsEveryRelayForAStopAndLeavesTheHeartbeat) {
  auto annexe = annexe_with({relay(), heartbeat()});
  const OutputKeeper keeper{annexe.settings};
  const auto trips = keeper.trip_all();
  ASSERT_EQ(trips.size(), 1U);
  EXPECT_TRUE(trips[0].what.is_coil);
  EXPECT_EQ(trips[0].what.value, 0);
}

TEST(OutputKeeper, RemembersWhyAnOutputCouldNotBeWritten) {
  auto annexe = annexe_with({relay()});
  OutputKeeper keeper{annexe.settings};
  EXPECT_FALSE(keeper.health()[0].written);
  keeper.written({0, 1, std::nullopt});
  EXPECT_TRUE(keeper.health()[0].written);
  keeper.written({0, 1, drivers::BusError{drivers::BusFault::timeout, 0, "no reply from unit 31"}});
  EXPECT_FALSE(keeper.health()[0].written);
  EXPECT_EQ(keeper.health()[0].trouble, "no reply from unit 31");
}

} // namespace oxherd::daemon::output_keeper_test
