// Suppressions, tests and the marks of a room's alarms, through the decision core.
#include <gtest/gtest.h>

#include "config/zone_file.hpp"
#include "tests/daemon/room/annexe.hpp"

namespace oxherd::daemon::acts_test {

using alarms::Act;
using alarms::State;
using annexe_test::Annexe;
using annexe_test::transitions;
using namespace std::chrono_literals;

std::optional<Site::Acted> person(Annexe& annexe, Act act, const std::string& alarm, alarms::Monotonic duration = 0s,
                                  const std::string& comment = "cell C is being replaced") {
  return annexe.site->act("cryo-annexe", alarm, {act, "mira", comment, duration}, annexe.now, annexe.wall);
}

AlarmStatus status_of(Annexe& annexe, const std::string& alarm) {
  for (auto& status : annexe.site->status(0, annexe.now, annexe.wall).alarms)
    if (status.alarm == alarm) return status;
  ADD_FAILURE() << "no alarm " << alarm;
  return {};
}

int count_events(const Outcome& outcome, const std::string& event) {
  int count = 0;
  for (const auto& news : outcome.alarms) count += news.record.event == event ? 1 : 0;
  return count;
}

TEST(OutOfService, ShowsTheRoomAsNotMonitoredAndSaysByWhomAndWhy) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  ASSERT_FALSE(person(annexe, Act::remove_from_service, "low-oxygen", 2h)->refusal);
  const auto outcome = annexe.seconds(12);
  const auto room = annexe.site->status(0, annexe.now, annexe.wall);
  EXPECT_FALSE(room.monitored);
  EXPECT_NE(room.reason.find("low-oxygen is out of service until"), std::string::npos) << room.reason;
  EXPECT_NE(room.reason.find("by mira: cell C is being replaced"), std::string::npos) << room.reason;
  EXPECT_EQ(annexe.state("not-monitored"), State::unacknowledged) << "it is announced to those who did not do it";
  EXPECT_FALSE(annexe.site->relay_energised(0));
  const auto status = status_of(annexe, "low-oxygen");
  EXPECT_EQ(status.suppressed_by, "mira");
  EXPECT_NE(status.text.find("You will not be warned. Use a certified monitor."), std::string::npos) << status.text;
}

TEST(OutOfService, JournalsBeneathAndAnnouncesAnewWhatStandsAtItsEnd) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  ASSERT_FALSE(person(annexe, Act::remove_from_service, "low-oxygen", 2h)->refusal);
  annexe.oxygen = 0.18;
  const auto beneath = annexe.seconds(6);
  EXPECT_EQ(count_events(beneath, "transition-suppressed"), 1);
  EXPECT_EQ(annexe.state("low-oxygen"), State::out_of_service);
  const auto back = person(annexe, Act::return_to_service, "low-oxygen");
  ASSERT_FALSE(back->refusal);
  EXPECT_EQ(annexe.state("low-oxygen"), State::unacknowledged);
  EXPECT_EQ(back->outcome.alarms.front().record.event, "return_to_service");
}

TEST(OutOfService, IsKeptWithNameAndReasonOverARestart) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  const auto acted = person(annexe, Act::remove_from_service, "low-oxygen", 2h);
  annexe.start();
  EXPECT_TRUE(annexe.site->restore({acted->outcome.alarms.front().snapshot}, 1, annexe.now, annexe.wall).empty());
  const auto status = status_of(annexe, "low-oxygen");
  EXPECT_EQ(status.state, State::out_of_service);
  EXPECT_EQ(status.suppressed_by, "mira");
  EXPECT_EQ(status.suppressed_because, "cell C is being replaced");
  EXPECT_EQ(status.suppressed_until, annexe.wall + 2h);
}

TEST(OutOfService, NeedsAReasonAndATime) {
  Annexe annexe;
  annexe.start();
  EXPECT_TRUE(person(annexe, Act::remove_from_service, "low-oxygen", 2h, " ")->refusal);
  EXPECT_TRUE(person(annexe, Act::remove_from_service, "low-oxygen")->refusal);
}

TEST(Shelving, IsRefusedForASafetyAlarmAndTheRefusalIsJournaled) {
  Annexe annexe;
  annexe.start();
  const auto acted = person(annexe, Act::shelve, "low-oxygen", 1h);
  ASSERT_TRUE(acted->refusal);
  EXPECT_EQ(acted->outcome.alarms.front().record.event, "shelve-refused");
}

TEST(AlarmTestOfARoom, IsMarkedInEveryRecordAndMessage) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  ASSERT_FALSE(person(annexe, Act::test, "low-oxygen", 60s, "monthly test")->refusal);
  const auto outcome = annexe.seconds(5);
  EXPECT_EQ(transitions(outcome, "low-oxygen"), "normal>unacknowledged");
  for (const auto& news : outcome.alarms) {
    EXPECT_EQ(news.record.text.rfind("TEST ALARM", 0), 0U) << news.record.text;
    EXPECT_EQ(news.record.cause, "test");
    EXPECT_TRUE(news.status.test);
  }
  EXPECT_FALSE(annexe.site->relay_energised(0)) << "the beacon is part of what is proven";
  const auto ended = annexe.seconds(60);
  EXPECT_EQ(count_events(ended, "test-ended"), 1);
  EXPECT_EQ(annexe.state("low-oxygen"), State::latched_unacknowledged);
  EXPECT_TRUE(annexe.site->status(0, annexe.now, annexe.wall).monitored) << "the samples were judged all the while";
}

void raise_and_acknowledge_a_test(Annexe& annexe) {
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  ASSERT_FALSE(person(annexe, Act::test, "low-oxygen", 600s, "monthly test")->refusal);
  static_cast<void>(annexe.seconds(5));
  ASSERT_FALSE(person(annexe, Act::acknowledge, "low-oxygen")->refusal);
}

TEST(AlarmTestOfARoom, GivesWayToTheRealConditionWithItsRealMessage) {
  Annexe annexe;
  ASSERT_NO_FATAL_FAILURE(raise_and_acknowledge_a_test(annexe));
  annexe.oxygen = 0.18;
  const auto outcome = annexe.seconds(5);
  EXPECT_EQ(annexe.state("low-oxygen"), State::unacknowledged);
  EXPECT_EQ(count_events(outcome, "transition"), 1);
  const auto status = status_of(annexe, "low-oxygen");
  EXPECT_FALSE(status.test);
  EXPECT_EQ(status.text.rfind("LOW OXYGEN", 0), 0U) << status.text;
}

/// The same settings anew, as a reload makes them of a file that did not change.
Outcome reload(Annexe& annexe) {
  const Site before = *annexe.site;
  annexe.start();
  annexe.site->continue_from(before, annexe.now, annexe.wall);
  return annexe.site->announce_reload(annexe.now, annexe.wall);
}

std::vector<std::string> lines_of(const Outcome& outcome) {
  std::vector<std::string> lines;
  for (const auto& news : outcome.alarms)
    lines.push_back(news.record.alarm + " " + news.record.event + " " + std::string{alarms::name_of(news.record.from)} +
                    ">" + std::string{alarms::name_of(news.record.to)});
  return lines;
}

TEST(AReload, SaysThatWhatATestRaisedIsTakenForRealThoughTheTestWasAcknowledged) {
  Annexe annexe;
  ASSERT_NO_FATAL_FAILURE(raise_and_acknowledge_a_test(annexe));
  annexe.now += 30s;
  annexe.wall += 30s;
  const auto outcome = reload(annexe);
  EXPECT_EQ(lines_of(outcome), (std::vector<std::string>{"low-oxygen reload acknowledged>unacknowledged",
                                                         "low-oxygen test-ended unacknowledged>unacknowledged"}));
  EXPECT_EQ(status_of(annexe, "low-oxygen").since, annexe.wall);
  EXPECT_FALSE(status_of(annexe, "low-oxygen").test);
  EXPECT_TRUE(lines_of(reload(annexe)).empty()) << "said once";
}

TEST(AReload, EndsATestThatHasNotAnnouncedAnythingYetAndSaysSo) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  ASSERT_FALSE(person(annexe, Act::test, "low-oxygen", 600s, "monthly test")->refusal);
  EXPECT_EQ(lines_of(reload(annexe)), std::vector<std::string>{"low-oxygen test-ended normal>normal"});
}

TEST(AReload, LeavesAnAcknowledgedAlarmAloneAndWritesNothing) {
  Annexe annexe;
  annexe.start();
  annexe.oxygen = 0.18;
  static_cast<void>(annexe.seconds(5));
  ASSERT_FALSE(person(annexe, Act::acknowledge, "low-oxygen")->refusal);
  EXPECT_TRUE(lines_of(reload(annexe)).empty());
  EXPECT_EQ(annexe.state("low-oxygen"), State::acknowledged);
}

/// An alarm of the process that the regime of its room suppresses although its condition stands.
AlarmSnapshot suppress_high_oxygen(Annexe& annexe) {
  annexe.settings.rooms[0].regime = alarms::Regime::ventilated_before_entry;
  annexe.settings.rooms[0].alarms[1].alarm.annunciation.safety = false;
  annexe.settings.rooms[0].alarms[1].regimes = {alarms::Regime::occupied};
  annexe.start();
  annexe.oxygen = 0.25;
  AlarmSnapshot last;
  for (const auto& news : annexe.seconds(10).alarms)
    if (news.record.alarm == "high-oxygen") last = news.snapshot;
  EXPECT_EQ(annexe.state("high-oxygen"), State::suppressed_by_design);
  EXPECT_TRUE(last.recorded.present);
  return last;
}

TEST(SuppressionByDesign, IsNotLiftedForAMomentByAReload) {
  Annexe annexe;
  static_cast<void>(suppress_high_oxygen(annexe));
  EXPECT_TRUE(lines_of(reload(annexe)).empty());
  EXPECT_EQ(annexe.state("high-oxygen"), State::suppressed_by_design);
  EXPECT_EQ(transitions(annexe.seconds(3), "high-oxygen"), "");
}

TEST(SuppressionByDesign, IsNotLiftedForAMomentByARestart) {
  Annexe annexe;
  const auto remembered = suppress_high_oxygen(annexe);
  annexe.start();
  static_cast<void>(annexe.site->restore({remembered}, 1, annexe.now, annexe.wall));
  EXPECT_EQ(lines_of(annexe.site->announce_restart(annexe.now, annexe.wall)),
            std::vector<std::string>{"high-oxygen restart suppressed_by_design>suppressed_by_design"});
  EXPECT_EQ(transitions(annexe.seconds(3), "high-oxygen"), "");
}

TEST(SuppressionByDesign, ThatTheSettingsNoLongerWantEndsInARecordOfTheReload) {
  Annexe annexe;
  static_cast<void>(suppress_high_oxygen(annexe));
  annexe.settings.rooms[0].alarms[1].regimes.clear();
  EXPECT_EQ(lines_of(reload(annexe)),
            std::vector<std::string>{"high-oxygen reload suppressed_by_design>unacknowledged"});
  EXPECT_EQ(status_of(annexe, "high-oxygen").raised, annexe.wall);
}

/// A process alarm whose condition stands, suppressed by the site's clock from 08:16 to 08:17 of UTC.
void suppress_for_a_minute(Annexe& annexe) {
  annexe.settings.rooms[0].alarms[1].alarm.annunciation.safety = false;
  annexe.settings.rooms[0].alarms[1].suppressed = {{.from = 8 * 60 + 16, .to = 8 * 60 + 17}, "it is flushed then"};
  annexe.start(); // at 08:15:30
  annexe.oxygen = 0.25;
}

TEST(SuppressedHours, HideAProcessAlarmByTheClockAndAnnounceItAnewAtTheirEnd) {
  Annexe annexe;
  suppress_for_a_minute(annexe);
  EXPECT_EQ(transitions(annexe.seconds(29), "high-oxygen"), "normal>unacknowledged");
  EXPECT_EQ(transitions(annexe.seconds(1), "high-oxygen"), "unacknowledged>suppressed_by_design");
  const auto status = status_of(annexe, "high-oxygen");
  EXPECT_FALSE(status.in_force);
  EXPECT_EQ(status.text,
            "high-oxygen is suppressed by design: it is flushed then, until 08:17. You will not be warned. "
            "Use a certified monitor.");
  EXPECT_EQ(transitions(annexe.seconds(59), "high-oxygen"), "");
  EXPECT_EQ(transitions(annexe.seconds(1), "high-oxygen"), "suppressed_by_design>unacknowledged");
  EXPECT_TRUE(status_of(annexe, "high-oxygen").in_force);
}

TEST(SuppressedHours, FollowTheSitesZone) {
  Annexe annexe;
  suppress_for_a_minute(annexe);
  auto zone = config::load_named_zone("Europe/Amsterdam"); // an hour ahead in March
  ASSERT_TRUE(zone);
  annexe.settings.site.zone = {"Europe/Amsterdam", *zone};
  annexe.settings.rooms[0].alarms[1].suppressed->hours = {.from = 9 * 60 + 16, .to = 9 * 60 + 17};
  annexe.start();
  static_cast<void>(annexe.seconds(29));
  EXPECT_EQ(transitions(annexe.seconds(1), "high-oxygen"), "unacknowledged>suppressed_by_design");
}

TEST(FirstOut, MarksTheFirstAlarmOfARoomUntilAllAreNormal) {
  Annexe annexe;
  annexe.start();
  static_cast<void>(annexe.seconds(3));
  annexe.oxygen = 0.18;
  static_cast<void>(annexe.seconds(5));
  EXPECT_TRUE(status_of(annexe, "low-oxygen").first_out);
  for (int i = 0; i < 20; ++i) {
    static_cast<void>(annexe.site->take(annexe.failed(0, drivers::BusFault::timeout)));
    static_cast<void>(annexe.pass(1s));
  }
  ASSERT_EQ(annexe.state("not-monitored"), State::unacknowledged);
  EXPECT_FALSE(status_of(annexe, "not-monitored").first_out) << "it follows";
  annexe.oxygen = 0.2095;
  static_cast<void>(annexe.seconds(20));
  for (const auto* alarm : {"low-oxygen", "not-monitored"}) {
    EXPECT_TRUE(status_of(annexe, "low-oxygen").first_out);
    ASSERT_FALSE(person(annexe, Act::acknowledge, alarm)->refusal);
    ASSERT_FALSE(person(annexe, Act::reset, alarm)->refusal);
  }
  EXPECT_FALSE(status_of(annexe, "low-oxygen").first_out);
}

TEST(ReturnedMessage, SaysWhenTheConditionEndedAndNotThatTheRoomIsSafe) {
  Annexe annexe;
  annexe.start();
  annexe.oxygen = 0.18;
  static_cast<void>(annexe.seconds(5));
  annexe.oxygen = 0.2095;
  static_cast<void>(annexe.seconds(15));
  ASSERT_EQ(annexe.state("low-oxygen"), State::latched_unacknowledged);
  const auto text = status_of(annexe, "low-oxygen").text;
  EXPECT_NE(text.find("alarm condition ended"), std::string::npos) << text;
  EXPECT_NE(text.find("20.9"), std::string::npos) << text;
  EXPECT_NE(text.find("This does not mean the room is safe"), std::string::npos) << text;
}

} // namespace oxherd::daemon::acts_test
