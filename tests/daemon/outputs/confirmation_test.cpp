// Whether an output holds what it was told, as its device and its contact say.
#include <gtest/gtest.h>

#include "daemon/outputs/confirmation.hpp"

namespace oxherd::daemon::confirmation_test {

using namespace std::chrono_literals;

config::Output relay_output() { return {"relay", "plant", 31, 1000ms, config::AlarmRelay{"cryo-annexe", 4}}; }

WriteResult held(std::uint16_t told, std::uint16_t holds) { return {0, told, {}, holds}; }
WriteResult with_contact(std::uint16_t told, bool shows) {
  auto result = held(told, told);
  result.contact = shows;
  return result;
}
WriteResult unwritable() { return {0, 1, drivers::BusError{drivers::BusFault::timeout, 0, "no reply"}}; }
WriteResult unanswering() {
  WriteResult result{0, 1};
  result.asking_error = drivers::BusError{drivers::BusFault::exception, 1, "refused coil 4"};
  return result;
}

TEST(Confirmation, IsUnknownUntilTheDeviceHasAnswered) {
  Confirmation output{relay_output()};
  EXPECT_FALSE(output.found(0s).confirmed);
  output.asked(1, 1s);
  EXPECT_FALSE(output.found(1s).confirmed);
  output.answered(held(1, 1), 1100ms);
  EXPECT_EQ(output.found(1100ms).confirmed, true);
  EXPECT_TRUE(output.holds(1));
  EXPECT_FALSE(output.holds(0));
}

TEST(Confirmation, IsLostWhenTheDisagreementHasLastedAsLongAsPermitted) {
  Confirmation output{relay_output()};
  output.asked(1, 0s);
  output.answered(held(1, 0), 100ms);
  EXPECT_FALSE(output.found(2099ms).confirmed);
  EXPECT_FALSE(output.found(2099ms).confirmed.has_value());
  EXPECT_EQ(output.found(2100ms).confirmed, false);
  EXPECT_EQ(output.found(2100ms).trouble, "was told on, its device holds off");
  output.answered(held(1, 1), 2200ms);
  EXPECT_EQ(output.found(2200ms).confirmed, true);
}

TEST(Confirmation, OneAgreementInBetweenBeginsTheTimeAnew) {
  Confirmation output{relay_output()};
  output.asked(1, 0s);
  output.answered(held(1, 0), 0s);
  output.answered(held(1, 1), 1s);
  output.answered(held(1, 0), 2s);
  EXPECT_FALSE(output.found(3900ms).confirmed.has_value());
  EXPECT_EQ(output.found(4s).confirmed, false);
}

// A horn in pulses is told on and off in turn. One that is stuck off agrees every other time, and is lost all the same.
TEST(Confirmation, ACoilThatIsStuckIsFoundThroughItsPulses) {
  Confirmation output{relay_output()};
  for (auto at = 0ms; at <= 2s; at += 500ms) {
    const std::uint16_t told = at % 1000ms == 0ms ? 1 : 0;
    output.asked(told, at);
    output.answered(held(told, 0), at);
  }
  EXPECT_EQ(output.found(2s).confirmed, false);
  output.asked(0, 3s);
  output.answered(held(0, 0), 3s);
  EXPECT_EQ(output.found(100s).confirmed, false) << "off again, it has still not been seen to come on";
  output.asked(1, 101s);
  output.answered(held(1, 1), 101s);
  EXPECT_EQ(output.found(101s).confirmed, true);
}

// Settings that are read again every second would otherwise keep a coil that is stuck from ever being lost.
TEST(Confirmation, ADoubtGoesOnOverAReload) {
  Confirmation before{relay_output()};
  before.asked(1, 0s);
  before.answered(held(1, 0), 0s);
  Confirmation after{relay_output()};
  after.continue_from(before, true);
  EXPECT_FALSE(after.found(1900ms).confirmed.has_value());
  after.asked(1, 1900ms);
  EXPECT_EQ(after.found(2s).confirmed, false);
  after.answered(held(1, 1), 2100ms);
  EXPECT_EQ(after.found(2100ms).confirmed, true);
}

TEST(Confirmation, AContactIsJudgedByWhatWasToldBeforeAReload) {
  auto output = relay_output();
  output.feedback = config::Feedback{33, drivers::Table::discrete_input, 0, 5s};
  Confirmation relay{output};
  for (auto at = 100s; at < 110s; at += 2s) { // each time before its stroke is over
    Confirmation next{output};
    next.continue_from(relay, true);
    relay = next;
    relay.asked(1, at);
    relay.answered(with_contact(1, false), at);
  }
  EXPECT_EQ(relay.found(108s).confirmed, false);
}

TEST(Confirmation, AReloadTakesOverNothingThatIsConfirmedOrWasWaitedFor) {
  Confirmation confirmed{relay_output()};
  confirmed.asked(1, 0s);
  confirmed.answered(held(1, 1), 0s);
  Confirmation after{relay_output()};
  after.continue_from(confirmed, true);
  EXPECT_FALSE(after.found(1s).confirmed.has_value());
  EXPECT_FALSE(after.holds(1));

  Confirmation waiting{relay_output()};
  waiting.asked(1, 0s);
  Confirmation with_new_bus{relay_output()};
  with_new_bus.continue_from(waiting, true);
  with_new_bus.asked(1, 10s);
  EXPECT_FALSE(with_new_bus.found(11s).confirmed.has_value()) << "its bus has had a second";
}

// What once did not come on is lost until it is seen to, which is what a proof test is for. A valve has none.
TEST(Confirmation, WhatNobodyCanProveIsForgivenByAReload) {
  Confirmation before{relay_output()};
  before.asked(1, 0s);
  before.answered(held(1, 0), 0s);
  before.asked(0, 3s);
  before.answered(held(0, 0), 3s);
  ASSERT_EQ(before.found(4s).confirmed, false);
  for (const bool provable : {true, false}) {
    Confirmation after{relay_output()};
    after.continue_from(before, provable);
    after.asked(0, 5s);
    after.answered(held(0, 0), 5s);
    EXPECT_EQ(after.found(5s).confirmed, !provable);
  }
}

TEST(Confirmation, IsLostWhenItCannotBeWrittenOrAskedOrReached) {
  Confirmation unwritten{relay_output()};
  unwritten.asked(1, 0s);
  unwritten.answered(unwritable(), 0s);
  EXPECT_EQ(unwritten.found(2s).confirmed, false);
  EXPECT_EQ(unwritten.found(2s).trouble, "cannot be told on: no reply");
  unwritten.answered(held(1, 1), 3s);
  EXPECT_EQ(unwritten.found(3s).confirmed, true);

  Confirmation unasked{relay_output()};
  unasked.asked(1, 0s);
  unasked.answered(unanswering(), 0s);
  EXPECT_EQ(unasked.found(2s).confirmed, false);
  EXPECT_EQ(unasked.found(2s).trouble, "was told on, but cannot be asked what it holds: refused coil 4");

  Confirmation unreached{relay_output()};
  unreached.asked(1, 0s);
  unreached.asked(1, 1s); // its bus hangs: nothing comes back
  EXPECT_EQ(unreached.found(2s).confirmed, false);
  EXPECT_EQ(unreached.found(2s).trouble, "was told on, and its bus has not come to it");
}

config::Output gas_valve(control::Duty duty = control::Duty::nitrogen_purge) {
  config::Actuator valve;
  valve.at = {.is_coil = true, .address = 0};
  valve.rules.duty = duty;
  return {"pear-nitrogen", "stores", 6, 1000ms, valve};
}

/// Told on at 0 s, and its device never held it; told off from 3 s on, with what its device held then.
Confirmation failed_to_come_on(const config::Output& output, alarms::Monotonic until, std::uint16_t then) {
  Confirmation valve{output};
  valve.asked(1, 0s);
  valve.answered(held(1, 0), 0s);
  for (alarms::Monotonic now = 3s; now <= until; now += 1s) {
    valve.asked(0, now);
    valve.answered(held(0, then), now);
  }
  return valve;
}

TEST(Confirmation, AGasThatOnceDidNotComeOnIsForgivenOnceItIsOffAndThatHasBeenKnownForAMinute) {
  EXPECT_EQ(failed_to_come_on(gas_valve(), 61s, 0).found(61s).confirmed, false);
  EXPECT_EQ(failed_to_come_on(gas_valve(), 62s, 0).found(62s).confirmed, true) << "2 s to be lost, and a minute";
  EXPECT_EQ(failed_to_come_on(gas_valve(), 600s, 1).found(600s).confirmed, false) << "it is not off";
  EXPECT_EQ(failed_to_come_on(gas_valve(control::Duty::fresh_air), 600s, 0).found(600s).confirmed, false)
      << "that is told on in need, and seen to come on";
  EXPECT_EQ(failed_to_come_on(relay_output(), 600s, 0).found(600s).confirmed, false) << "there is a proof test for it";
}

TEST(Confirmation, AGasThatOnceDidNotGoOffIsNotForgivenByComingOn) {
  Confirmation valve{gas_valve()};
  valve.asked(0, 0s);
  valve.answered(held(0, 1), 0s);
  for (alarms::Monotonic now = 3s; now <= 600s; now += 1s) {
    valve.asked(1, now);
    valve.answered(held(1, 1), now);
  }
  EXPECT_EQ(valve.found(600s).confirmed, false);
}

TEST(Confirmation, AContactIsJudgedWhenItHasHadItsStroke) {
  auto output = relay_output();
  output.feedback = config::Feedback{33, drivers::Table::discrete_input, 0, 1s};
  output.confirm_within = 3s;
  Confirmation relay{output};
  relay.asked(1, 0s);
  relay.answered(with_contact(1, false), 900ms);
  EXPECT_EQ(relay.found(900ms).confirmed, true) << "still on its way";
  relay.answered(with_contact(1, false), 1s);
  EXPECT_FALSE(relay.found(3900ms).confirmed.has_value());
  EXPECT_EQ(relay.found(4s).confirmed, false);
  EXPECT_EQ(relay.found(4s).trouble, "was told on, its feedback contact shows off");
  EXPECT_FALSE(relay.holds(1)) << "the contact has not followed";
  relay.answered(with_contact(1, true), 5s);
  EXPECT_EQ(relay.found(5s).confirmed, true);
  EXPECT_TRUE(relay.holds(1));
}

TEST(Confirmation, ARegisterIsHeldAgainstTheNumberThatWasWritten) {
  Confirmation beat{{"heartbeat", "plant", 31, 1000ms, config::Heartbeat{10}}};
  beat.asked(700, 0s);
  beat.answered(held(700, 699), 0s);
  beat.asked(704, 1s);
  beat.answered(held(704, 699), 1s);
  EXPECT_EQ(beat.found(2s).confirmed, false);
  EXPECT_EQ(beat.found(2s).trouble, "was told 704, its device holds 699");
}

} // namespace oxherd::daemon::confirmation_test
