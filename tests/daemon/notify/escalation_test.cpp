#include "tests/daemon/notify/people.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon::notify_test {

TEST(Escalation, TellsTheFirstAtOnceAndTheNextOnesUntilSomebodyAcknowledges) {
  Play play;
  const auto alarm = standing("low-oxygen", Priority::critical);
  EXPECT_EQ(told(play.say(alarm)), "okafor:alarm");
  EXPECT_EQ(told(play.pass(59s)), "");
  EXPECT_EQ(told(play.pass(1s)), "finch:alarm");
  EXPECT_EQ(told(play.pass(4min)), "okafor:alarm finch:alarm mori:alarm");
  EXPECT_EQ(told(play.pass(5min)), "okafor:alarm finch:alarm mori:alarm") << "again, nobody has answered";
  EXPECT_EQ(told(play.become(alarm, AlarmState::acknowledged, true)), "");
  EXPECT_EQ(told(play.pass(1h)), "");
}

TEST(Escalation, TellsTheReturnToThoseWhoWereInformedAndToNobodyElse) {
  Play play;
  const auto alarm = standing("low-oxygen", Priority::critical);
  play.say(alarm);
  play.become(alarm, AlarmState::acknowledged, true);
  EXPECT_EQ(told(play.become(alarm, AlarmState::latched_acknowledged, false)), "okafor:returned");
  EXPECT_EQ(told(play.become(alarm, AlarmState::latched_acknowledged, false)), "") << "said twice, told once";
  EXPECT_EQ(told(play.become(alarm, AlarmState::normal, false)), "");
  EXPECT_TRUE(play.state.climbs.empty());
}

TEST(Escalation, GoesOnAfterTheReturnOfAnAlarmThatNobodyHasSeen) {
  Play play;
  const auto alarm = standing("low-oxygen", Priority::critical);
  play.say(alarm);
  EXPECT_EQ(told(play.become(alarm, AlarmState::latched_unacknowledged, false)), "okafor:returned");
  EXPECT_EQ(told(play.pass(30s)), "");
  EXPECT_EQ(told(play.say(alarm)), "okafor:alarm") << "it recurs after its return was told";
  EXPECT_EQ(told(play.pass(30s)), "finch:alarm") << "which does not put off the next person";
}

TEST(Escalation, StartsAgainWithAReannunciation) {
  Play play;
  auto alarm = standing("low-oxygen", Priority::critical);
  play.say(alarm);
  play.become(alarm, AlarmState::acknowledged, true);
  play.pass(15min);
  alarm.raised += 15min;
  const auto again = play.say(alarm);
  EXPECT_EQ(told(again), "okafor:alarm");
  EXPECT_EQ(again.at(0).earlier.size(), 1U) << "it names the message that it takes further";
  EXPECT_EQ(told(play.pass(1min)), "finch:alarm");
}

TEST(Escalation, OfAChatteringAlarmTellsNoReturnThatWouldNotLast) {
  Play play;
  auto alarm = standing("low-oxygen", Priority::critical);
  play.say(alarm);
  alarm.chattering = true;
  EXPECT_EQ(told(play.become(alarm, AlarmState::latched_unacknowledged, false)), "");
  EXPECT_EQ(told(play.say(alarm)), "") << "known to come and go, and the ladder goes on";
  EXPECT_EQ(told(play.become(alarm, AlarmState::latched_unacknowledged, false)), "");
  EXPECT_EQ(told(play.pass(1min)), "finch:alarm");
  alarm.chattering = false;
  EXPECT_EQ(told(play.become(alarm, AlarmState::latched_unacknowledged, false)), "okafor:returned finch:returned");
}

TEST(Escalation, SaysThatAnAlarmIsHiddenAndEnds) {
  Play play;
  const auto alarm = standing("low-oxygen", Priority::critical);
  play.say(alarm);
  EXPECT_EQ(told(play.become(alarm, AlarmState::out_of_service, true)), "okafor:hidden");
  EXPECT_EQ(told(play.pass(1h)), "");
  EXPECT_EQ(told(play.say(alarm)), "okafor:alarm") << "back in service and still there";
}

TEST(Escalation, OfARotaTellsWhoIsOnDutyAndEveryoneOfItWhenNobodyIs) {
  auto settings = people();
  settings.rotas = {{"turns", {}, {{"finch", {}}}, {}, std::nullopt}};
  settings.rotas[0].weekly[0].hours = {{true, true, true, true, true, false, false}, 8 * 60, 11 * 60 + 30};
  settings.rotas[0].weekly.push_back({"mori", {{true, false, false, false, false, false, false}, 20 * 60, 22 * 60}});
  settings.ladders[3] = {{{0s, {"turns"}}}, std::nullopt, false, false};
  Play play{settings};
  EXPECT_EQ(told(play.say(standing("low-oxygen", Priority::critical))), "finch:alarm") << "Monday 11:00";
  play.mono += 1h;
  EXPECT_EQ(told(play.say(standing("very-low-oxygen", Priority::critical))), "finch:alarm mori:alarm");
}

TEST(Escalation, WaitsForWorkingHoursWithWhatCanWait) {
  Play play;
  play.mono = 8h; // Monday 18:00
  EXPECT_EQ(told(play.say(standing("drift", Priority::medium))), "");
  EXPECT_EQ(told(play.pass(14h - 1min)), "");
  EXPECT_EQ(told(play.pass(1min)), "okafor:alarm") << "Tuesday 08:00";
  auto safety = standing("door", Priority::medium);
  safety.safety = true;
  play.mono += 12h;
  EXPECT_EQ(told(play.say(safety)), "okafor:alarm") << "a safety alarm waits for nothing";
}

TEST(Escalation, HoldsBackInQuietHoursOnlyWhatIsNeitherSafetyNorNotMonitored) {
  auto settings = people();
  settings.contacts[0].quiet_hours = config::WeeklyHours{{true, true, true, true, true, true, true}, 22 * 60, 7 * 60};
  Play play{settings};
  play.mono = 13h; // 23:00
  EXPECT_EQ(told(play.say(standing("drift", Priority::high))), "");
  EXPECT_EQ(told(play.say(standing("low-oxygen", Priority::critical))), "okafor:alarm");
  auto unknown = standing("not-monitored", Priority::high, "bay-3");
  unknown.about = notify::About::not_monitored;
  EXPECT_EQ(told(play.say(unknown)), "okafor:alarm");
  play.become(standing("low-oxygen", Priority::critical), AlarmState::acknowledged, true);
  play.become(unknown, AlarmState::acknowledged, true);
  play.all.clear();
  play.pass(9h);
  ASSERT_FALSE(play.all.empty());
  const auto first =
      std::find_if(play.all.begin(), play.all.end(), [](const Message& m) { return m.contact == "okafor"; });
  ASSERT_NE(first, play.all.end());
  EXPECT_EQ(first->at, start_wall + 21h) << "07:00, when the quiet hours end";
}

TEST(Escalation, MergesWhatCanWaitPerRoomAndTellsItOnceAMinute) {
  Play play;
  EXPECT_EQ(told(play.say(standing("drift-0", Priority::high))), "okafor:alarm");
  for (int i = 1; i <= 8; ++i) {
    auto f = standing("drift-" + std::to_string(i), Priority::high);
    f.first_out = i == 3;
    EXPECT_EQ(told(play.say(f)), "");
  }
  EXPECT_EQ(told(play.say(standing("humid", Priority::high, "bay-3"))), "");
  const auto merged = play.pass(1min);
  ASSERT_EQ(merged.size(), 1U);
  EXPECT_EQ(merged[0].alarms.size(), 8U) << "one leads and seven more";
  EXPECT_EQ(merged[0].alarms[0].alarm, "drift-3") << "the first that came of its room";
  const auto other = play.pass(1min);
  ASSERT_EQ(other.size(), 1U);
  EXPECT_EQ(other[0].alarms[0].room, "bay-3");
}

TEST(Escalation, TellsNobodyOfWhatWasAcknowledgedWhileItWaited) {
  Play play;
  play.say(standing("drift", Priority::high));
  const auto humid = standing("humid", Priority::high);
  EXPECT_EQ(told(play.say(humid)), "") << "the minute of the message before";
  EXPECT_EQ(told(play.become(humid, AlarmState::acknowledged, true)), "");
  EXPECT_EQ(told(play.pass(2min)), "");
}

TEST(Escalation, NeverMergesNorDelaysWhatIsCritical) {
  Play play;
  play.say(standing("drift", Priority::high));
  for (int i = 0; i < 20; ++i)
    EXPECT_EQ(told(play.say(standing("low-oxygen-" + std::to_string(i), Priority::critical))), "okafor:alarm");
}

TEST(Escalation, SendsLowPriorityOnceADay) {
  Play play; // Monday 11:00; the digest is at 07:30
  EXPECT_EQ(told(play.say(standing("calibration-due", Priority::low))), "");
  play.say(standing("cell-worn", Priority::low, "bay-3"));
  EXPECT_EQ(told(play.pass(20h)), "");
  const auto digest = play.pass(31min);
  EXPECT_EQ(told(digest), "okafor:digest");
  EXPECT_EQ(digest.at(0).alarms.size(), 2U);
  EXPECT_EQ(told(play.pass(24h)), "") << "nothing came since";
}

TEST(Escalation, SendsDigestsOnAfterAClockThatWasAhead) {
  Play play;
  play.pass(20s);
  *play.state.digest_day += 4000;
  play.say(standing("calibration-due", Priority::low));
  EXPECT_EQ(told(play.pass(24h)), "okafor:digest");
}

TEST(Escalation, TellsATroubleByAnotherRouteToAllWhoHaveOne) {
  Play play;
  const auto messages = play.take(notify::next_trouble(play.settings, play.state, "mail", "mail fails", play.now()));
  EXPECT_EQ(told(messages), "okafor:trouble finch:trouble mori:trouble");
  EXPECT_EQ(messages.at(0).not_by, "") << "there is no other way to reach this one";
  EXPECT_EQ(messages.at(1).not_by, "mail");
}

TEST(Escalation, AfterARestartTakesUnknownAlarmsAsNewAndKnownOnesAsTheyWere) {
  Play play;
  const auto alarm = standing("low-oxygen", Priority::critical);
  play.say(alarm);
  EXPECT_EQ(told(play.say(alarm)), "") << "what stands is said again at a start and after a reload";
  play.state = {};
  EXPECT_EQ(told(play.say(alarm)), "okafor:alarm");
}

TEST(Escalation, ForgetsAnAlarmThatAReloadTookAway) {
  Play play;
  play.say(standing("low-oxygen", Priority::critical));
  play.take(notify::next_removed(play.settings, play.state, "cryo-annexe", "low-oxygen", play.now()));
  EXPECT_EQ(told(play.pass(1h)), "");
}

TEST(RouteTests, ComeOnceAPeriodAtVariedHoursAndMissNoContact) {
  auto settings = people();
  settings.test_every = 168h;
  notify::RouteTests tests;
  std::map<notify::RouteTests::Key, std::vector<WallTime>> sent;
  EXPECT_TRUE(tests_due(settings, tests, start_wall).empty()) << "a start tests nobody";
  const auto first_full = std::chrono::floor<std::chrono::hours>(start_wall) + 168h;
  for (auto t = start_wall; t < start_wall + 168h * 21; t += 20min)
    for (const auto& key : tests_due(settings, tests, t)) sent[key].push_back(t);
  EXPECT_EQ(sent.size(), 4U) << "mail of three, and the webhook of one";
  for (const auto& [key, times] : sent) {
    EXPECT_GE(times.size(), 20U);
    EXPECT_LE(times.size(), 21U);
    EXPECT_LE(times.front(), first_full + 168h);
    std::set<std::int64_t> hours;
    for (const auto& t : times) hours.insert((t.time_since_epoch() % 24h) / 1h);
    EXPECT_GE(hours.size(), 8U) << key.first << ": hours of the day among " << times.size() << " tests";
  }
}

TEST(RouteTests, GoOnAfterAClockThatWasAhead) {
  auto settings = people();
  settings.test_every = 168h;
  notify::RouteTests tests;
  EXPECT_TRUE(tests_due(settings, tests, start_wall + 24h * 3650).empty());
  EXPECT_TRUE(tests_due(settings, tests, start_wall).empty()) << "the clock is set: a new period is waited for";
  EXPECT_EQ(tests_due(settings, tests, start_wall + 168h * 2).size(), 4U);
  const notify::RouteTests::Key key{"okafor", "mail"};
  tests.last[key].sent = start_wall + 24h * 3650;
  EXPECT_TRUE(tests_missed(settings, tests, start_wall).empty());
  EXPECT_EQ(tests_missed(settings, tests, start_wall + settings.answer_within), std::vector{key});
}

TEST(RouteTests, AreAnsweredByANameOrReportedOnce) {
  auto settings = people();
  settings.test_every = 168h;
  Play play{settings};
  play.pass(20s);
  play.pass(168h * 2);
  ASSERT_FALSE(play.state.tests.last.empty());
  const auto [key, test] = *play.state.tests.last.begin();
  const auto troubles =
      std::count_if(play.all.begin(), play.all.end(), [](const Message& m) { return m.kind == Kind::trouble; });
  EXPECT_GE(troubles, 3) << "nobody answered: everyone is told, whatever the route";
  auto tests = play.state.tests;
  tests.last[key].reported = false;
  EXPECT_EQ(tests_missed(settings, tests, test.sent + 24h - 1ms).size(), 0U) << "there is still time";
  EXPECT_EQ(tests_missed(settings, tests, test.sent + 24h), std::vector{key});
  EXPECT_EQ(tests_missed(settings, tests, test.sent + 48h).size(), 0U) << "told once";
  EXPECT_EQ(answer_test(tests, test.number, "R. Finch", play.now().wall), key);
  EXPECT_EQ(tests.last[key].answered_by, "R. Finch");
  EXPECT_FALSE(answer_test(tests, test.number, "R. Finch", play.now().wall)) << "twice";
  EXPECT_FALSE(answer_test(tests, 99999, "R. Finch", play.now().wall));
}

} // namespace oxherd::daemon::notify_test
