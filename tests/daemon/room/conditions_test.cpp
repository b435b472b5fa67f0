// Conditions other than limits, from polls to messages.
#include <gtest/gtest.h>

#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::conditions_test {

using namespace std::chrono_literals;
using alarms::Direction;
using alarms::Scheme;
using alarms::State;
using annexe_test::Annexe;
using annexe_test::transitions;

/// An annexe with one more alarm of this rule, "extra".
Annexe with_rule(alarms::Rule rule, int cells = 1, Scheme vote = Scheme::one_of_one,
                 config::AlarmQuantity quantity = config::AlarmQuantity::oxygen) {
  Annexe annexe{cells, vote};
  config::AlarmSettings extra;
  extra.name = "extra";
  extra.quantity = quantity;
  extra.alarm.rule = std::move(rule);
  extra.alarm.annunciation.safety = extra.alarm.annunciation.latching = false;
  annexe.settings.rooms[0].alarms.push_back(extra);
  annexe.start();
  return annexe;
}

AlarmStatus status_of(const Annexe& annexe, const std::string& alarm) {
  for (auto& a : annexe.site->status(0, annexe.now, annexe.wall).alarms)
    if (a.alarm == alarm) return a;
  throw std::runtime_error{"no alarm " + alarm};
}

alarms::RateOfFall half_a_percent() { return {{Direction::high, 0.005, 0.001, 10s, 30s}, 60s}; }

TEST(Conditions, ARoomWhoseOxygenFallsFastIsToldBeforeItsLimit) {
  Annexe annexe = with_rule(half_a_percent());
  EXPECT_EQ(transitions(annexe.seconds(120), "extra"), "");
  std::string seen;
  int seconds = 0;
  while (seen.empty() && annexe.oxygen > 0.197) {
    annexe.oxygen -= 0.008 / 60.0;
    seen = transitions(annexe.second(), "extra");
    ++seconds;
  }
  EXPECT_EQ(seen, "normal>unacknowledged");
  EXPECT_LE(seconds, 75); // a window and the on-delay, with a part of the window at the limit's rate
  const auto status = status_of(annexe, "extra");
  EXPECT_NEAR(*status.value, 0.008, 0.003);
  EXPECT_EQ(*status.limit, 0.005);
  EXPECT_EQ(status.unit, "1/min");
  EXPECT_EQ(status.text.rfind("FALLING FAST cryo-annexe: oxygen falls by 0.", 0), 0U) << status.text;
  EXPECT_NE(status.text.find("limit 0.5 % per minute"), std::string::npos) << status.text;
}

TEST(Conditions, ACalibrationIsNoFall) {
  auto rule = half_a_percent();
  rule.limit.on_delay = 0s;
  Annexe annexe = with_rule(rule);
  EXPECT_EQ(transitions(annexe.seconds(90), "extra"), "");
  ASSERT_TRUE(status_of(annexe, "extra").value);
  auto calibration = annexe.calibrations.begin()->second;
  calibration.calibration.span.signal.value = millivolts(13.6); // all readings are lower by one part in twelve
  calibration.number = 7;
  annexe.site->set_calibration({0, 0}, calibration);
  EXPECT_EQ(transitions(annexe.seconds(1), "extra"), "");
  EXPECT_FALSE(status_of(annexe, "extra").value); // the window fills anew
  EXPECT_EQ(transitions(annexe.seconds(200), "extra"), "");
  EXPECT_TRUE(status_of(annexe, "extra").value);
}

TEST(Conditions, TheTimeLeftIsSaidInMinutes) {
  Annexe annexe = with_rule(alarms::TimeToLimit{{Direction::low, 10.0, 2.0, 0s, 0s}, Direction::low, 0.195, 60s});
  std::string seen;
  while (seen.empty() && annexe.oxygen > 0.195) {
    annexe.oxygen -= 0.001 / 60.0;
    seen = transitions(annexe.second(), "extra");
  }
  EXPECT_EQ(seen, "normal>unacknowledged");
  const auto status = status_of(annexe, "extra");
  EXPECT_EQ(status.unit, "min");
  EXPECT_EQ(*status.limit, 10.0);
  EXPECT_NE(status.text.find("oxygen will reach 19.5 % in "), std::string::npos) << status.text;
  EXPECT_NE(status.text.find(" min if it goes on"), std::string::npos) << status.text;
}

TEST(Conditions, AnAverageIsKeptOverAReload) {
  Annexe annexe = with_rule(alarms::TimeAverage{{Direction::low, 0.20, 0.002, 0s, 0s}, 10min});
  annexe.oxygen = 0.205;
  annexe.seconds(300);
  annexe.oxygen = 0.199;
  annexe.seconds(200);
  const auto before = status_of(annexe, "extra").value;
  ASSERT_TRUE(before);
  Site reloaded{annexe.settings, annexe.calibrations, annexe.now, annexe.wall};
  reloaded.continue_from(*annexe.site, annexe.now, annexe.wall);
  annexe.site = std::move(reloaded);
  EXPECT_NEAR(*status_of(annexe, "extra").value, *before, 1e-12);
  EXPECT_NEAR(*before, (300 * 0.205 + 200 * 0.199) / 500.0, 1e-4);
}

TEST(Conditions, CellsThatDisagreeSayThatNobodyKnowsWhichIsWrong) {
  Annexe annexe = with_rule(alarms::Disagreement{{Direction::high, 0.005, 0.001, 2s, 5s}}, 2, Scheme::one_of_two);
  annexe.seconds(3);
  std::string seen;
  for (int i = 0; i < 5; ++i) {
    static_cast<void>(annexe.site->take(annexe.air_poll()));
    static_cast<void>(annexe.site->take(annexe.cell_poll(0, 0.2095)));
    static_cast<void>(annexe.site->take(annexe.cell_poll(1, 0.2295)));
    seen += transitions(annexe.pass(1s), "extra");
  }
  EXPECT_EQ(seen, "normal>unacknowledged");
  const auto status = status_of(annexe, "extra");
  EXPECT_NEAR(*status.value, 0.02, 1e-4);
  EXPECT_NE(status.text.find("differ by 2.00 %, limit 0.5 %"), std::string::npos) << status.text;
}

TEST(Conditions, ADeviationNamesItsSetPoint) {
  Annexe annexe = with_rule(alarms::Deviation{{Direction::high, 0.005, 0.001, 0s, 0s}, 0.2});
  EXPECT_NE(transitions(annexe.seconds(2), "extra"), "");
  const auto status = status_of(annexe, "extra");
  EXPECT_NEAR(*status.value, 0.0095, 1e-4);
  EXPECT_NE(status.text.find("away from 20 %, limit 0.5 %"), std::string::npos) << status.text;
}

/// Three cells of which the last gives no reply from the start of a second on.
Outcome second_without_cell_c(Annexe& annexe) {
  static_cast<void>(annexe.site->take(annexe.air_poll()));
  for (std::size_t c = 0; c < 2; ++c) static_cast<void>(annexe.site->take(annexe.cell_poll(c, annexe.oxygen)));
  static_cast<void>(annexe.site->take(annexe.failed(2, drivers::BusFault::exception, 2)));
  return annexe.pass(1s);
}

TEST(Degraded, AVoteWithoutAChannelIsTold) {
  Annexe annexe = with_rule(alarms::Degraded{}, 3, Scheme::two_of_three, config::AlarmQuantity::monitoring);
  EXPECT_EQ(transitions(annexe.seconds(60), "extra"), "");
  std::string seen;
  for (int i = 0; i < 32; ++i) seen += transitions(second_without_cell_c(annexe), "extra");
  EXPECT_EQ(seen, "normal>unacknowledged");
  const auto status = status_of(annexe, "extra");
  EXPECT_EQ(status.text.rfind("cryo-annexe VOTES WITHOUT ALL ITS CHANNELS since ", 0), 0U) << status.text;
  EXPECT_NE(status.text.find("cell-c: "), std::string::npos) << status.text;
  EXPECT_NE(status.text.find("after 72 h the room counts as not monitored"), std::string::npos) << status.text;
  EXPECT_FALSE(status.value);
  EXPECT_TRUE(annexe.site->status(0, annexe.now, annexe.wall).monitored);
}

TEST(Degraded, MakesTheRoomNotMonitoredAfterTheTimePermitted) {
  Annexe annexe = with_rule(alarms::Degraded{10s, 5s, 60s}, 3, Scheme::two_of_three, config::AlarmQuantity::monitoring);
  annexe.seconds(5);
  for (int i = 0; i < 69; ++i) second_without_cell_c(annexe);
  EXPECT_TRUE(annexe.site->status(0, annexe.now, annexe.wall).monitored);
  for (int i = 0; i < 3; ++i) second_without_cell_c(annexe);
  const auto room = annexe.site->status(0, annexe.now, annexe.wall);
  EXPECT_FALSE(room.monitored);
  EXPECT_NE(room.reason.find("a vote has lacked a channel for longer than permitted"), std::string::npos);
  for (int i = 0; i < 12; ++i) second_without_cell_c(annexe);
  EXPECT_EQ(annexe.state("not-monitored"), State::unacknowledged);
  annexe.seconds(10); // the channel is back
  EXPECT_TRUE(annexe.site->status(0, annexe.now, annexe.wall).monitored);
}

TEST(Degraded, ARestartDoesNotRestartTheTimePermitted) {
  Annexe annexe = with_rule(alarms::Degraded{10s, 5s, 72h}, 3, Scheme::two_of_three, config::AlarmQuantity::monitoring);
  annexe.seconds(5);
  std::optional<AlarmSnapshot> kept;
  for (int i = 0; i < 12; ++i)
    for (const auto& news : second_without_cell_c(annexe).alarms)
      if (news.record.alarm == "extra") kept = news.snapshot;
  ASSERT_TRUE(kept);
  annexe.wall += 71h;
  annexe.now = Monotonic{5000};
  annexe.start();
  EXPECT_TRUE(annexe.site->restore({*kept}, 10, annexe.now, annexe.wall).empty());
  for (int i = 0; i < 3590; ++i) second_without_cell_c(annexe);
  EXPECT_TRUE(annexe.site->status(0, annexe.now, annexe.wall).monitored);
  for (int i = 0; i < 12; ++i) second_without_cell_c(annexe);
  EXPECT_FALSE(annexe.site->status(0, annexe.now, annexe.wall).monitored);
}

} // namespace oxherd::daemon::conditions_test
