// When outputs are written, and what the rooms that answer for them are told.
#include <gtest/gtest.h>

#include "daemon/outputs/output_keeper.hpp"
#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::output_keeper_test {

using namespace std::chrono_literals;
using Stamp = std::chrono::steady_clock::time_point;

config::Output relay() { return {"relay", "plant", 31, 1000ms, config::AlarmRelay{"cryo-annexe", 4}}; }
config::Output heartbeat() { return {"heartbeat", "plant", 31, 1000ms, config::Heartbeat{10}}; }
config::Output lamp() { return {"lamp", "plant", 31, 1000ms, config::Beacon{{}, {true, 6}}}; }
config::Output horn() { return {"horn", "plant", 31, 1000ms, config::Sounder{{}, {true, 5}}}; }

annexe_test::Annexe annexe_with(std::vector<config::Output> outputs) {
  annexe_test::Annexe annexe;
  annexe.settings.outputs = std::move(outputs);
  annexe.start();
  return annexe;
}

TEST(OutputKeeper, WritesTheRelayTrippedUntilTheRoomIsMonitored) {
  auto annexe = annexe_with({relay()});
  OutputKeeper keeper{annexe.settings};
  const auto first = keeper.due(*annexe.site, annexe.now, Stamp{});
  ASSERT_EQ(first.size(), 1U);
  EXPECT_EQ(first[0].bus, "plant");
  EXPECT_TRUE(first[0].what.is_coil);
  EXPECT_EQ(first[0].what.address, 4);
  EXPECT_EQ(first[0].what.value, 0) << "off is tripped";
  static_cast<void>(annexe.seconds(2));
  const auto healthy = keeper.due(*annexe.site, annexe.now, Stamp{});
  ASSERT_EQ(healthy.size(), 1U);
  EXPECT_EQ(healthy[0].what.value, 1);
}

TEST(OutputKeeper, TripsTheRelayAtOnceAndNotAtItsNextTurn) {
  auto annexe = annexe_with({relay()});
  OutputKeeper keeper{annexe.settings};
  static_cast<void>(annexe.seconds(2));
  static_cast<void>(annexe.site->take(annexe.cell_poll(0, 0.18)));
  static_cast<void>(annexe.pass(2900ms));
  ASSERT_EQ(keeper.due(*annexe.site, annexe.now, Stamp{})[0].what.value, 1) << "written just now, next in a second";
  static_cast<void>(annexe.pass(100ms));
  const auto trip = keeper.due(*annexe.site, annexe.now, Stamp{7s});
  ASSERT_EQ(trip.size(), 1U);
  EXPECT_EQ(trip[0].what.value, 0);
  EXPECT_EQ(trip[0].what.decided, Stamp{7s});
}

TEST(OutputKeeper, WritesAgainEveryPeriodThoughNothingChangedAndThatIsNoDecision) {
  auto annexe = annexe_with({relay()});
  OutputKeeper keeper{annexe.settings};
  EXPECT_EQ(keeper.due(*annexe.site, annexe.now, Stamp{}).size(), 1U);
  EXPECT_EQ(keeper.due(*annexe.site, annexe.now + 999ms, Stamp{}).size(), 0U);
  const auto again = keeper.due(*annexe.site, annexe.now + 1000ms, Stamp{7s});
  ASSERT_EQ(again.size(), 1U);
  EXPECT_FALSE(again[0].what.decided);
}

TEST(OutputKeeper, CountsCompletedEvaluationsInTheHeartbeat) {
  auto annexe = annexe_with({heartbeat()});
  OutputKeeper keeper{annexe.settings};
  static_cast<void>(annexe.pass(250ms));
  static_cast<void>(annexe.pass(250ms));
  const auto beat = keeper.due(*annexe.site, annexe.now, Stamp{});
  ASSERT_EQ(beat.size(), 1U);
  EXPECT_FALSE(beat[0].what.is_coil);
  EXPECT_EQ(beat[0].what.address, 10);
  EXPECT_EQ(beat[0].what.value, 2);
  EXPECT_EQ(keeper.due(*annexe.site, annexe.now + 1s, Stamp{})[0].what.value, 2) << "no evaluation, no new beat";
}

TEST(OutputKeeper, TripsEveryRelayForAStopAndLeavesTheOthers) {
  auto annexe = annexe_with({relay(), heartbeat(), horn()});
  const OutputKeeper keeper{annexe.settings};
  const auto trips = keeper.trip_all(*annexe.site, Stamp{7s});
  ASSERT_EQ(trips.size(), 1U);
  EXPECT_TRUE(trips[0].what.is_coil);
  EXPECT_EQ(trips[0].what.value, 0);
  EXPECT_EQ(trips[0].what.decided, Stamp{7s}) << "tried at once, even when its module does not answer";
}

TEST(OutputKeeper, LeavesActuatorsInTheirSafeStateAtAStop) {
  const auto actuator = [](const char* name, control::Duty duty, std::uint16_t coil, bool works_energised) {
    config::Actuator one{"cryo-annexe", {true, coil}, {}, works_energised, 0, 10000, {}, 0.0, {}};
    one.rules.duty = duty;
    one.rules.safe = control::facts_of(duty).safe;
    return config::Output{name, "plant", 33, 1000ms, one};
  };
  auto annexe = annexe_with({actuator("fan", control::Duty::ventilation, 0, false),
                             actuator("louvre", control::Duty::ventilation, 1, true),
                             actuator("valve", control::Duty::carbon_dioxide_dosing, 2, true)});
  const auto left = OutputKeeper{annexe.settings}.trip_all(*annexe.site, Stamp{7s});
  ASSERT_EQ(left.size(), 3U);
  EXPECT_EQ(left[0].what.value, 0) << "it runs without power";
  EXPECT_EQ(left[1].what.value, 1) << "it takes power to air the room";
  EXPECT_EQ(left[2].what.value, 0);
}

TEST(OutputKeeper, TheStepsOfAFlashingPatternAreNoDecisions) {
  auto annexe = annexe_with({horn()});
  OutputKeeper keeper{annexe.settings};
  static_cast<void>(annexe.seconds(2));
  static_cast<void>(keeper.due(*annexe.site, annexe.now, Stamp{}));
  ASSERT_TRUE(keeper.begin_proof(0, "Mira", 10s, *annexe.site, annexe.now));
  const auto begun = keeper.due(*annexe.site, annexe.now, Stamp{7s});
  ASSERT_EQ(begun.size(), 1U);
  EXPECT_EQ(begun[0].what.decided, Stamp{7s}) << "that it sounds was decided";
  annexe = annexe_with({lamp()});
  OutputKeeper of_lamp{annexe.settings};
  static_cast<void>(annexe.seconds(2));
  static_cast<void>(of_lamp.due(*annexe.site, annexe.now, Stamp{}));
  annexe.oxygen = 0.17;
  int decisions = 0, steps = 0;
  for (int i = 0; i < 40; ++i) {
    static_cast<void>(annexe.site->take(annexe.cell_poll(0, annexe.oxygen)));
    static_cast<void>(annexe.pass(250ms));
    for (const auto& write : of_lamp.due(*annexe.site, annexe.now, Stamp{7s}))
      ++(write.what.decided ? decisions : steps);
  }
  EXPECT_EQ(decisions, 1) << "that it flashes was decided once";
  EXPECT_GE(steps, 8) << "each half second on or off";
}

TEST(OutputKeeper, AsksTheFeedbackContactAlong) {
  auto with_contact = relay();
  with_contact.feedback = config::Feedback{33, drivers::Table::discrete_input, 6, 1s};
  auto annexe = annexe_with({with_contact});
  const auto write = OutputKeeper{annexe.settings}.trip_all(*annexe.site, Stamp{7s}).at(0).what;
  ASSERT_TRUE(write.contact);
  EXPECT_EQ(write.contact->unit, 33);
  EXPECT_EQ(write.contact->address, 6);
}

TEST(OutputKeeper, RemembersWhyAnOutputCouldNotBeWritten) {
  auto annexe = annexe_with({relay()});
  OutputKeeper keeper{annexe.settings};
  const auto health = [&] { return keeper.health(annexe.now)[0]; };
  EXPECT_FALSE(health().written);
  keeper.written({0, 1, {}, 1}, annexe.now);
  EXPECT_TRUE(health().written);
  EXPECT_EQ(health().trouble, "");
  keeper.written({0, 1, drivers::BusError{drivers::BusFault::timeout, 0, "no reply from unit 31"}}, annexe.now);
  EXPECT_FALSE(health().written);
  EXPECT_EQ(health().trouble, "no reply from unit 31");
}

TEST(OutputKeeper, KeepsHowLongDecisionsTookToReachTheDevice) {
  auto annexe = annexe_with({relay()});
  OutputKeeper keeper{annexe.settings};
  WriteResult result{0, 0, {}, 0};
  result.took = 1500us;
  keeper.written(result, annexe.now);
  result.took.reset(); // written again
  keeper.written(result, annexe.now);
  EXPECT_EQ(keeper.health(annexe.now)[0].latency.count(), 1U);
  EXPECT_EQ(keeper.health(annexe.now)[0].latency.longest(), 1500us);
}

TEST(OutputKeeper, TellsTheRoomThatAnswersWhatIsLostAndWhatComesOfIt) {
  auto annexe = annexe_with({relay(), horn()});
  OutputKeeper keeper{annexe.settings};
  EXPECT_FALSE(keeper.found(annexe.now)[0].confirmed) << "not known yet";
  static_cast<void>(keeper.due(*annexe.site, annexe.now, Stamp{}));
  keeper.written({0, 0, {}, 0}, annexe.now);
  EXPECT_FALSE(keeper.found(annexe.now)[0].confirmed) << "of the horn nothing is known";
  keeper.written({1, 0, {}, 0}, annexe.now);
  EXPECT_EQ(keeper.found(annexe.now)[0].confirmed, true);
  keeper.written({1, 0, {}, 1}, annexe.now); // told to be off, it is on
  EXPECT_FALSE(keeper.found(annexe.now + 1999ms)[0].confirmed);
  const auto lost = keeper.found(annexe.now + 2s)[0];
  EXPECT_EQ(lost.confirmed, false);
  EXPECT_FALSE(lost.relay_lost);
  EXPECT_EQ(lost.trouble,
            "horn (coil 5 of unit 31 on bus \"plant\") was told off, its device holds on; the horn may not sound");
}

// Each reload would otherwise begin the time anew after which the relay counts as lost.
TEST(OutputKeeper, FindsAnOutputLostThoughItsSettingsAreReadAgainAndAgain) {
  auto annexe = annexe_with({relay()});
  auto moved = relay();
  moved.unit = 32;
  auto other = annexe_with({moved});
  OutputKeeper keeper{annexe.settings};
  for (int second = 0; second <= 2; ++second) {
    OutputKeeper next{annexe.settings};
    next.continue_from(keeper);
    keeper = std::move(next);
    for (const auto& write : keeper.due(*annexe.site, annexe.now, Stamp{}))
      keeper.written({write.what.output, write.what.value, {}, write.what.value ^ 1U}, annexe.now);
    annexe.now += 1s;
  }
  EXPECT_EQ(keeper.found(annexe.now).front().confirmed, false);
  OutputKeeper elsewhere{other.settings};
  elsewhere.continue_from(keeper);
  EXPECT_FALSE(elsewhere.found(annexe.now).front().confirmed.has_value()) << "another device";
}

TEST(OutputKeeper, ARoomThatAnswersForNothingIsToldNothing) {
  auto annexe = annexe_with({});
  const auto found = OutputKeeper{annexe.settings}.found(annexe.now);
  ASSERT_EQ(found.size(), 1U);
  EXPECT_FALSE(found[0].confirmed);
  EXPECT_EQ(found[0].trouble, "");
}

} // namespace oxherd::daemon::output_keeper_test
