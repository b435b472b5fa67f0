// The decision core, driven by hand: polls, ticks and acts of people in, readings and alarms out.
#include <gtest/gtest.h>

#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::site_test {

using alarms::State;
using annexe_test::Annexe;
using annexe_test::transitions;
using namespace std::chrono_literals;

TEST(Site, ReadsTheTrueFractionThroughAFallingBarometer) {
  Annexe annexe;
  annexe.start();
  for (const double pressure : {98800.0, 97800.0, 96500.0}) {
    annexe.pressure_Pa = pressure;
    const auto outcome = annexe.second();
    const auto reading = annexe.site->status(0, annexe.now, annexe.wall);
    ASSERT_TRUE(reading.oxygen);
    EXPECT_NEAR(*reading.oxygen, 0.2095, 1e-9);
    EXPECT_TRUE(reading.monitored) << reading.reason;
    EXPECT_TRUE(outcome.alarms.empty());
  }
}

TEST(Site, RaisesLowOxygenAfterTheOnDelayAndNotBefore) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(5));
  annexe.oxygen = 0.18;
  EXPECT_EQ(transitions(annexe.seconds(2), "low-oxygen"), "");
  EXPECT_EQ(transitions(annexe.seconds(2), "low-oxygen"), "normal>unacknowledged");
}

TEST(Site, EndsTheOnDelayByTheClockWithoutAnotherSample) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  ASSERT_TRUE(annexe.site->take(annexe.cell_poll(0, 0.18)).alarms.empty());
  EXPECT_EQ(transitions(annexe.pass(2900ms), "low-oxygen"), "");
  EXPECT_EQ(transitions(annexe.pass(100ms), "low-oxygen"), "normal>unacknowledged");
}

TEST(Site, DecidesByTheClockRoomByRoomSoThatARelayNeedNotWaitForTheOthers) {
  Annexe annexe;
  annexe.settings.rooms.push_back(annexe.settings.rooms[0]);
  annexe.settings.rooms[1].name = "bay-3";
  annexe.start();
  static_cast<void>(annexe.seconds(5));
  ASSERT_TRUE(annexe.site->relay_energised(0));
  static_cast<void>(annexe.site->take(annexe.cell_poll(0, 0.18)));
  annexe.now += 3s;
  annexe.wall += 3s;
  const auto evaluations = annexe.site->evaluations();
  const auto outcome = annexe.site->tick_room(0, annexe.now, annexe.wall);
  EXPECT_EQ(outcome.rooms_changed, std::vector<std::size_t>{0});
  EXPECT_FALSE(annexe.site->relay_energised(0));
  EXPECT_EQ(annexe.site->evaluations(), evaluations) << "the other room has not been looked at";
  EXPECT_TRUE(annexe.site->tick_room(1, annexe.now, annexe.wall).alarms.empty());
  annexe.site->complete_evaluation();
  EXPECT_EQ(annexe.site->evaluations(), evaluations + 1);
}

TEST(Site, RaisesWhatItsDelayHadEndedForThoughTheNextSampleIsGood) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  static_cast<void>(annexe.site->take(annexe.cell_poll(0, 0.18)));
  annexe.now += 3100ms; // no tick in between
  annexe.wall += 3100ms;
  EXPECT_EQ(transitions(annexe.site->take(annexe.cell_poll(0, 0.2095)), "low-oxygen"), "normal>unacknowledged");
}

TEST(Site, KeepsARunningOnDelayThroughTheLossOfTheCell) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  static_cast<void>(annexe.site->take(annexe.cell_poll(0, 0.18)));
  static_cast<void>(annexe.pass(1s));
  auto broken = annexe.cell_volts(0, 0.0);
  broken.values[0].fault = drivers::ValueFault::not_finite;
  static_cast<void>(annexe.site->take(broken));
  EXPECT_EQ(transitions(annexe.pass(2s), "low-oxygen"), "normal>unacknowledged");
}

TEST(Site, JudgesTheUnfavourableEndOfTheUncertaintyAndSaysSo) {
  Annexe annexe;
  annexe.oxygen = 0.1958; // above the limit, but not by more than the expanded uncertainty
  annexe.start();
  const auto outcome = annexe.seconds(6);
  ASSERT_EQ(transitions(outcome, "low-oxygen"), "normal>unacknowledged");
  const auto& record = outcome.alarms.front().record;
  ASSERT_TRUE(record.value && record.expanded && record.limit);
  EXPECT_GT(*record.value, *record.limit);
  EXPECT_LE(*record.value - *record.expanded, *record.limit);
  EXPECT_NE(record.text.find("Alarm raised because the reading is uncertain"), std::string::npos) << record.text;
}

TEST(Site, IsNotMonitoredWhenACellThatFlickeredGivesOneNumberForHalfAnHour) {
  Annexe annexe;
  annexe.start();
  for (int s = 0; s < 100; ++s) {
    annexe.oxygen = s % 2 == 0 ? 0.2095 : 0.2096;
    static_cast<void>(annexe.second());
  }
  const auto frozen = annexe.seconds(1795);
  EXPECT_EQ(transitions(frozen, "not-monitored"), "") << "half an hour is not over";
  EXPECT_EQ(transitions(annexe.seconds(30), "not-monitored"), "normal>unacknowledged");
  const auto room = annexe.site->status(0, annexe.now, annexe.wall);
  EXPECT_NE(room.reason.find("cell-a: oxygen: stuck, the same number for 30 min"), std::string::npos) << room.reason;
  EXPECT_EQ(room.sensors[0].status, alarms::Status::out_of_specification);
  EXPECT_FALSE(room.monitored);
}

TEST(Site, TripsOnASignalNearZeroAsDeadCellOrNoOxygen) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  static_cast<void>(annexe.site->take(annexe.cell_volts(0, 0.0)));
  EXPECT_EQ(transitions(annexe.pass(3s), "low-oxygen"), "normal>unacknowledged");
  const auto status = annexe.site->status(0, annexe.now, annexe.wall);
  EXPECT_EQ(status.sensors[0].status, alarms::Status::out_of_specification);
  EXPECT_NE(status.reason.find("dead cell, or no oxygen"), std::string::npos) << status.reason;
}

TEST(Site, IsNotMonitoredWhenTheCellFallsSilentAndHoldsTheLowAlarm) {
  Annexe annexe;
  annexe.start();
  annexe.oxygen = 0.18;
  static_cast<void>(annexe.seconds(5));
  ASSERT_EQ(annexe.state("low-oxygen"), State::unacknowledged);
  for (int i = 0; i < 20; ++i) {
    static_cast<void>(annexe.site->take(annexe.failed(0, drivers::BusFault::timeout)));
    static_cast<void>(annexe.pass(1s));
  }
  EXPECT_EQ(annexe.state("not-monitored"), State::unacknowledged);
  EXPECT_EQ(annexe.state("low-oxygen"), State::unacknowledged) << "bad data clears nothing";
  const auto status = annexe.site->status(0, annexe.now, annexe.wall);
  EXPECT_FALSE(status.monitored);
  EXPECT_NE(status.reason.find("no reply from unit 11"), std::string::npos) << status.reason;
}

TEST(Site, IsNotMonitoredFromTheStartWhenNothingEverAnswers) {
  Annexe annexe;
  annexe.start();
  for (int i = 0; i < 12; ++i) annexe.pass(1s);
  EXPECT_EQ(annexe.state("not-monitored"), State::unacknowledged);
  EXPECT_FALSE(annexe.site->relay_energised(0));
}

TEST(Site, DoesNotMonitorWithACellThatHasNoCalibration) {
  Annexe annexe;
  annexe.calibrations.clear();
  annexe.start();
  static_cast<void>(annexe.seconds(12));
  EXPECT_EQ(annexe.state("not-monitored"), State::unacknowledged);
  EXPECT_NE(annexe.site->status(0, annexe.now, annexe.wall).reason.find("not calibrated"), std::string::npos);
}

TEST(Site, WidensTheUncertaintyWhenTheBarometerIsLostAndGoesOnUncertain) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(2));
  const double before = *annexe.site->status(0, annexe.now, annexe.wall).expanded_oxygen;
  for (int i = 0; i < 8; ++i) {
    static_cast<void>(annexe.site->take(annexe.cell_poll(0, annexe.oxygen)));
    annexe.pass(1s); // the air probe has gone silent
  }
  const auto status = annexe.site->status(0, annexe.now, annexe.wall);
  ASSERT_TRUE(status.expanded_oxygen);
  EXPECT_GT(*status.expanded_oxygen, 2.0 * before);
  EXPECT_EQ(status.sensors[0].status, alarms::Status::out_of_specification);
  EXPECT_NE(status.reason.find("probe lost"), std::string::npos) << status.reason;
}

TEST(Site, DropsTheRelayForAStandingAlarmAndNotBeforeTheFirstReadingEnergisesIt) {
  Annexe annexe;
  annexe.start();
  EXPECT_FALSE(annexe.site->relay_energised(0)) << "nothing has been measured yet";
  static_cast<void>(annexe.seconds(2));
  EXPECT_TRUE(annexe.site->relay_energised(0));
  annexe.oxygen = 0.18;
  static_cast<void>(annexe.seconds(5));
  EXPECT_FALSE(annexe.site->relay_energised(0));
  ASSERT_FALSE(
      annexe.site->act("cryo-annexe", "low-oxygen", {alarms::Act::acknowledge, "mira", ""}, annexe.now, annexe.wall)
          ->refusal);
  EXPECT_FALSE(annexe.site->relay_energised(0)) << "an acknowledgement must not silence the room's beacon";
}

TEST(Site, LatchesUntilAcknowledgedAndReset) {
  Annexe annexe;
  annexe.start();
  annexe.oxygen = 0.18;
  static_cast<void>(annexe.seconds(5));
  const auto act = [&](alarms::Act what) {
    return annexe.site->act("cryo-annexe", "low-oxygen", {what, "mira", ""}, annexe.now, annexe.wall)->refusal;
  };
  EXPECT_TRUE(act(alarms::Act::reset)) << "refused while the condition stands";
  annexe.oxygen = 0.2095;
  static_cast<void>(annexe.seconds(15));
  EXPECT_EQ(annexe.state("low-oxygen"), State::latched_unacknowledged);
  EXPECT_TRUE(act(alarms::Act::reset)) << "refused while unacknowledged";
  EXPECT_FALSE(act(alarms::Act::acknowledge));
  EXPECT_EQ(annexe.state("low-oxygen"), State::latched_acknowledged);
  EXPECT_FALSE(act(alarms::Act::reset));
  EXPECT_EQ(annexe.state("low-oxygen"), State::normal);
}

TEST(Site, JournalsEveryActWithItsAuthorAndRefusalsToo) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(2));
  const auto refused = annexe.site->act("cryo-annexe", "low-oxygen", {alarms::Act::acknowledge, "mira", "in advance"},
                                        annexe.now, annexe.wall);
  ASSERT_TRUE(refused && refused->refusal);
  ASSERT_EQ(refused->outcome.alarms.size(), 1U);
  const auto& record = refused->outcome.alarms.front().record;
  EXPECT_EQ(record.event, "acknowledge-refused");
  EXPECT_EQ(record.author, "mira");
  EXPECT_EQ(record.comment, "in advance");
  EXPECT_FALSE(
      annexe.site->act("cryo-annexe", "no-such", {alarms::Act::acknowledge, "mira", ""}, annexe.now, annexe.wall));
}

TEST(Site, NumbersTheJournalWithoutGapsOverARestart) {
  Annexe annexe;
  annexe.start();
  annexe.oxygen = 0.18;
  const auto outcome = annexe.seconds(5);
  ASSERT_FALSE(outcome.alarms.empty());
  const auto last = outcome.alarms.back().record.sequence;
  std::vector<AlarmSnapshot> remembered{outcome.alarms.back().snapshot};
  annexe.start();
  EXPECT_TRUE(annexe.site->restore(remembered, last, annexe.now, annexe.wall).empty());
  const auto restart = annexe.site->announce_restart(annexe.now, annexe.wall);
  ASSERT_EQ(restart.alarms.size(), 1U);
  EXPECT_EQ(restart.alarms.front().record.sequence, last + 1);
  EXPECT_EQ(restart.alarms.front().record.event, "restart");
}

TEST(Site, KeepsAnAlarmUnacknowledgedAndTheRelayDroppedOverARestart) {
  Annexe annexe;
  annexe.start();
  annexe.oxygen = 0.18;
  const auto outcome = annexe.seconds(5);
  annexe.now += 60s;
  annexe.wall += 60s;
  annexe.start();
  EXPECT_TRUE(annexe.site->restore({outcome.alarms.back().snapshot}, 1, annexe.now, annexe.wall).empty());
  EXPECT_EQ(annexe.state("low-oxygen"), State::unacknowledged);
  annexe.oxygen = 0.2095; // the air has recovered meanwhile: latched, still waiting for a person
  static_cast<void>(annexe.seconds(15));
  EXPECT_EQ(annexe.state("low-oxygen"), State::latched_unacknowledged);
  EXPECT_FALSE(annexe.site->relay_energised(0));
}

TEST(Site, ReportsARememberedActiveAlarmThatTheConfigurationNoLongerHas) {
  Annexe annexe;
  annexe.start();
  annexe.oxygen = 0.18;
  auto snapshot = annexe.seconds(5).alarms.back().snapshot;
  snapshot.alarm = "forgotten";
  annexe.start();
  const auto orphans = annexe.site->restore({snapshot}, 1, annexe.now, annexe.wall);
  ASSERT_EQ(orphans.size(), 1U);
  EXPECT_EQ(orphans.front().alarm, "forgotten");
}

TEST(Site, NamesTheActiveAlarmsThatAReloadWouldDelete) {
  Annexe annexe;
  annexe.start();
  auto next = annexe.settings;
  next.rooms[0].alarms.erase(next.rooms[0].alarms.begin());
  EXPECT_TRUE(annexe.site->active_alarms_missing_from(next).empty());
  annexe.oxygen = 0.18;
  static_cast<void>(annexe.seconds(5));
  EXPECT_EQ(annexe.site->active_alarms_missing_from(next), std::vector<std::string>{"cryo-annexe/low-oxygen"});
}

TEST(Site, CarriesAlarmsAndLastSamplesThroughAReload) {
  Annexe annexe;
  annexe.start();
  annexe.oxygen = 0.18;
  static_cast<void>(annexe.seconds(5));
  Site next{annexe.settings, annexe.calibrations, annexe.now, annexe.wall};
  next.continue_from(*annexe.site, annexe.now, annexe.wall);
  annexe.site.emplace(std::move(next));
  EXPECT_EQ(annexe.state("low-oxygen"), State::unacknowledged);
  static_cast<void>(annexe.pass(250ms));
  EXPECT_TRUE(annexe.site->status(0, annexe.now, annexe.wall).monitored) << "the last samples are still fresh";
}

TEST(Site, GivesItsLinesInTheOrderOfTheirNumbersWhateverTheyAreAbout) {
  Outcome outcome;
  outcome.alarms.resize(2);
  outcome.alarms[0].record.sequence = 1;
  outcome.alarms[1].record.sequence = 4;
  outcome.room_events.resize(3);
  outcome.room_events[0].sequence = 2;
  outcome.room_events[1].sequence = 3;
  outcome.room_events[2].sequence = 5;
  std::vector<std::int64_t> numbers;
  for_each_line(
      outcome, [&](const AlarmNews& news) { numbers.push_back(news.record.sequence); },
      [&](const AlarmRecord& event) { numbers.push_back(event.sequence); });
  EXPECT_EQ(numbers, (std::vector<std::int64_t>{1, 2, 3, 4, 5}));
}

TEST(Site, DoesNotAwaitACellAnewAtEachReload) {
  Annexe annexe{2, alarms::Scheme::two_of_two};
  annexe.start();
  annexe.oxygen = 0.18;
  for (int second = 0; second < 60; ++second) {
    if (second % 3 == 0) {
      Site next{annexe.settings, annexe.calibrations, annexe.now, annexe.wall};
      next.continue_from(*annexe.site, annexe.now, annexe.wall);
      annexe.site.emplace(std::move(next));
    }
    static_cast<void>(annexe.pass(1s));
    static_cast<void>(annexe.site->take(annexe.air_poll()));
    static_cast<void>(annexe.site->take(annexe.cell_poll(0, annexe.oxygen)));
    static_cast<void>(annexe.site->take(annexe.failed(1, drivers::BusFault::timeout))); // it never answered
  }
  EXPECT_EQ(annexe.state("low-oxygen"), State::unacknowledged);
}

TEST(Site, VotesTwoOutOfThreeAndCountsAFaultAsAVote) {
  Annexe annexe{3, alarms::Scheme::two_of_three};
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  const auto step = [&](double a, double b, bool c_fails) {
    Outcome all;
    for (int i = 0; i < 5; ++i) {
      static_cast<void>(annexe.site->take(annexe.air_poll()));
      static_cast<void>(annexe.site->take(annexe.cell_poll(0, a)));
      static_cast<void>(annexe.site->take(annexe.cell_poll(1, b)));
      auto c = annexe.cell_poll(2, 0.2095);
      if (c_fails) c.values[0].fault = drivers::ValueFault::not_finite;
      static_cast<void>(annexe.site->take(c));
      static_cast<void>(annexe.pass(1s));
    }
  };
  step(0.18, 0.2095, false);
  EXPECT_EQ(annexe.state("low-oxygen"), State::normal) << "one of three does not trip";
  step(0.18, 0.2095, true);
  EXPECT_EQ(annexe.state("low-oxygen"), State::unacknowledged) << "a faulted channel votes to trip";
  EXPECT_EQ(annexe.state("not-monitored"), State::normal) << "two good channels still monitor";
}

TEST(Site, LetsAChannelAnswerBeforeItsSilenceVotes) {
  Annexe annexe{3, alarms::Scheme::two_of_three};
  annexe.start();
  for (int i = 0; i < 5; ++i)
    EXPECT_EQ(transitions(annexe.pass(1s), "low-oxygen"), "") << "the first polls may come yet";
  Outcome all;
  for (int i = 0; i < 4 && all.alarms.empty(); ++i) all = annexe.pass(1s);
  EXPECT_EQ(transitions(all, "low-oxygen"), "normal>unacknowledged") << "two overdue channels trip 2oo3";
  EXPECT_NE(all.alarms.front().record.text.find("No channel gives a valid reading"), std::string::npos);
}

TEST(Site, ReplaysTheSamePollsToTheSameRecords) {
  const auto run = [] {
    Annexe annexe;
    annexe.start();
    annexe.oxygen = 0.18;
    auto outcome = annexe.seconds(20);
    std::string text;
    for (const auto& a : outcome.alarms) text += a.record.text + std::to_string(a.record.sequence);
    for (const auto& r : outcome.readings) text += r.oxygen ? std::to_string(r.oxygen->dry.si()) : "-";
    return text;
  };
  EXPECT_EQ(run(), run());
}

} // namespace oxherd::daemon::site_test
