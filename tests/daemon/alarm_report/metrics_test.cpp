#include <fmt/core.h>
#include <gtest/gtest.h>

#include "daemon/alarm_report/figures.hpp"
#include "tests/daemon/alarm_report/journal_fixture.hpp"

namespace oxherd::daemon::alarm_report_test {

using namespace alarm_report;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

Figure figure_named(const Performance& p, std::string_view key) {
  for (const auto& figure : figures_of(p))
    if (figure.key == key) return figure;
  ADD_FAILURE() << "no figure " << key;
  return {};
}

Verdict verdict_of(const Performance& p, std::string_view key) { return figure_named(p, key).verdict; }

// By hand: six annunciations in three hours are two an hour, a third of one in ten minutes, 48 a day.
TEST(AlarmRate, IsThatOfTheWatchedTime) {
  JournalPage page;
  for (int i = 0; i < 6; ++i) page.brief(i * 30 * minute_s);
  const auto all = watched_all(page.records, 0, 3 * hour_s);
  EXPECT_EQ(all.annunciations, 6U);
  EXPECT_DOUBLE_EQ(all.per_hour.value(), 2.0);
  EXPECT_DOUBLE_EQ(all.per_10_min.value(), 1.0 / 3.0);
  EXPECT_DOUBLE_EQ(all.per_day.value(), 48.0);

  // The same with an hour, and the two in it, that nobody watched: four in two hours.
  const std::vector watched{stretch(0, hour_s), stretch(2 * hour_s, 3 * hour_s)};
  const auto part = performance(page.records, stretch(0, 3 * hour_s), watched);
  EXPECT_EQ(part.annunciations, 6U);
  EXPECT_EQ(part.in_gaps, 2U);
  EXPECT_EQ(part.watched, hours{2});
  EXPECT_EQ(part.gaps, std::vector{stretch(hour_s, 2 * hour_s)});
  EXPECT_DOUBLE_EQ(part.per_hour.value(), 2.0);
}

TEST(Period, HoldsItsStartAndNotItsEndNorAnythingBehindIt) {
  JournalPage page;
  page.of("bay-3", "at-the-start").comes(0);
  page.of("bay-3", "at-the-end").comes(100);
  page.of("bay-3", "at-the-start").seen(150);
  const auto p = watched_all(page.records, 0, 100);
  EXPECT_EQ(p.annunciations, 1U);
  EXPECT_EQ(p.answers.count, 0U);
  ASSERT_EQ(p.owed.size(), 1U);
  EXPECT_EQ(p.owed[0].name.alarm, "at-the-start");
}

TEST(AlarmRate, IsNotKnownWhereNothingWasWatched) {
  const auto p = performance({}, stretch(0, day_s), {});
  EXPECT_FALSE(p.per_10_min || p.per_hour || p.per_day || p.share_in_flood || p.share_of_short_parts);
  for (const auto& figure : figures_of(p))
    EXPECT_TRUE(figure.verdict == Verdict::unknown || figure.verdict == Verdict::too_little) << figure.key;
}

// One alarm in the first minute would be ten in ten.
TEST(AlarmRate, IsNotJudgedOverLessThanTheTimeItSpeaksOf) {
  JournalPage page;
  page.brief(10);
  const auto minute = watched_all(page.records, 0, minute_s);
  EXPECT_DOUBLE_EQ(minute.per_10_min.value(), 10.0);
  EXPECT_EQ(verdict_of(minute, "per_10_min"), Verdict::too_little);
  const auto ten = watched_all(page.records, 0, 10 * minute_s);
  EXPECT_EQ(verdict_of(ten, "per_10_min"), Verdict::within);
  EXPECT_EQ(verdict_of(ten, "per_hour"), Verdict::too_little);
  EXPECT_EQ(verdict_of(ten, "per_day"), Verdict::too_little);
}

// EEMUA 191, published summary of key figures: 1 in ten minutes on average, 10 in ten minutes at most.
TEST(Recommendation, IsMetAtOneInTenMinutesAndNotAboveIt) {
  JournalPage page;
  for (int i = 0; i < 144; ++i) page.brief(i * 600.0);
  EXPECT_EQ(verdict_of(watched_all(page.records, 0, day_s), "per_10_min"), Verdict::within);
  page.brief(day_s - 10);
  const auto above = watched_all(page.records, 0, day_s);
  EXPECT_EQ(verdict_of(above, "per_10_min"), Verdict::beyond);
  EXPECT_EQ(verdict_of(above, "per_day"), Verdict::within);
  EXPECT_EQ(verdict_of(above, "per_hour"), Verdict::beyond); // six an hour; the summary asks for five
  EXPECT_EQ(figure_named(above, "per_10_min").source, "EEMUA 191");
}

// By hand: eleven in the first ten minutes of a day are more than ten in 1 of 144 parts, 0.7 %: less than 1 %. In the
// first and the last, 1.4 %: more.
TEST(Recommendation, OfShareOfTimeIsOnePercent) {
  JournalPage page;
  for (int i = 0; i < 11; ++i) page.brief(i * 54.0);
  const auto once = watched_all(page.records, 0, day_s);
  EXPECT_DOUBLE_EQ(once.share_of_short_parts.value(), 1.0 / 144.0);
  EXPECT_EQ(verdict_of(once, "share_of_10_min_above_10"), Verdict::within);
  EXPECT_EQ(verdict_of(once, "most_in_10_min"), Verdict::beyond);
  for (int i = 0; i < 11; ++i) page.brief(day_s - 600 + i * 54.0);
  const auto twice = watched_all(page.records, 0, day_s);
  EXPECT_DOUBLE_EQ(twice.share_of_short_parts.value(), 2.0 / 144.0);
  EXPECT_EQ(verdict_of(twice, "share_of_10_min_above_10"), Verdict::beyond);
  EXPECT_DOUBLE_EQ(twice.share_of_long_parts.value(), 0.0);
}

// ISA-18.2 and EEMUA 191: about 80 % low, 15 % medium, 5 % high. By hand: 80, 15 and 5 of a hundred.
TEST(Priorities, AreJudgedByTheirShareOfTheAnnunciations) {
  JournalPage page;
  double at_s = 0;
  const auto add = [&](alarms::Priority priority, int n) {
    page.of("bay-3", std::string{alarms::name_of(priority)}, priority);
    for (int i = 0; i < n; ++i) page.brief(at_s += 600);
  };
  add(alarms::Priority::low, 80);
  add(alarms::Priority::medium, 15);
  add(alarms::Priority::high, 5);
  const auto good = watched_all(page.records, 0, day_s);
  EXPECT_EQ(good.by_priority, (std::array<std::size_t, 4>{80, 15, 5, 0}));
  for (const char* key : {"share_low", "share_medium", "share_high", "share_critical"})
    EXPECT_EQ(verdict_of(good, key), Verdict::within) << key;
  add(alarms::Priority::critical, 2);
  const auto worse = watched_all(page.records, 0, day_s);
  EXPECT_EQ(verdict_of(worse, "share_critical"), Verdict::beyond);
  EXPECT_EQ(verdict_of(worse, "share_low"), Verdict::beyond); // 80 of 102
}

TEST(Shares, OfAFewAnnunciationsAreNotJudged) {
  JournalPage page;
  for (int i = 0; i < 19; ++i) page.brief(i * hour_s);
  EXPECT_EQ(verdict_of(watched_all(page.records, 0, day_s), "share_high"), Verdict::too_little);
  page.brief(20 * hour_s);
  EXPECT_EQ(verdict_of(watched_all(page.records, 0, day_s), "share_high"), Verdict::beyond);
}

TEST(MostFrequent, AreTheTenWithTheLargestCounts) {
  JournalPage page;
  double at_s = 0;
  for (int alarm = 0; alarm < 12; ++alarm) {
    page.of("bay-3", fmt::format("alarm-{:02}", alarm));
    for (int i = 0; i <= alarm; ++i) page.brief(at_s += 60);
  }
  const auto p = watched_all(page.records, 0, day_s);
  ASSERT_EQ(p.most_frequent.size(), 10U);
  EXPECT_EQ(p.most_frequent[0].name, (AlarmName{"bay-3", "alarm-11"}));
  EXPECT_EQ(p.most_frequent[0].count, 12U);
  EXPECT_EQ(p.most_frequent[9].count, 3U);
  // By hand: 1 + 2 + ... + 12 = 78, of which 1 + 2 are not among the ten.
  EXPECT_DOUBLE_EQ(figure_named(p, "share_of_most_frequent").value.value(), 75.0 / 78.0);
}

// By hand: 10, 20, ... 100 s. Median between 50 and 60; nine in ten within 90; longest 100.
TEST(TimeToAcknowledge, HasItsMedianNinthDecileAndLongest) {
  JournalPage page;
  for (int i = 1; i <= 10; ++i) {
    const double at_s = i * 1000.0;
    page.comes(at_s).seen(at_s + 10 * i).goes(at_s + 10 * i + 1, State::acknowledged);
  }
  const auto p = watched_all(page.records, 0, day_s);
  EXPECT_EQ(p.answers.count, 10U);
  EXPECT_EQ(p.answers.median, seconds{55});
  EXPECT_EQ(p.answers.ninth_decile, seconds{90});
  EXPECT_EQ(p.answers.longest, seconds{100});
  EXPECT_TRUE(p.owed.empty());
}

TEST(TimeToAcknowledge, RunsFromTheFirstAnnunciationThatNobodyAnswered) {
  JournalPage page;
  page.comes(0).goes(100).comes(200, State::returned_to_normal_unacknowledged).seen(300);
  const auto p = watched_all(page.records, 0, day_s);
  EXPECT_EQ(p.annunciations, 2U);
  EXPECT_EQ(p.answers.count, 1U);
  EXPECT_EQ(p.answers.longest, seconds{300});
}

TEST(TimeToAcknowledge, StartsAgainWithAReannunciation) {
  JournalPage page;
  page.comes(0).seen(60);
  page.line(960, "transition", State::acknowledged, State::unacknowledged, "re_annunciation").seen(1000);
  const auto p = watched_all(page.records, 0, day_s);
  EXPECT_EQ(p.annunciations, 2U);
  EXPECT_EQ(p.again, 1U);
  EXPECT_EQ(p.answers.count, 2U);
  EXPECT_EQ(p.answers.median, seconds{50}); // between 60 and 40
}

TEST(TimeToAcknowledge, SaysWhatStillWaitsAtTheEndTheOldestFirst) {
  JournalPage page;
  page.of("cryo-annexe", "low-oxygen").comes(500);
  page.of("bay-3", "high-co2").comes(400).goes(450);
  const auto p = watched_all(page.records, 0, 1000);
  ASSERT_EQ(p.owed.size(), 2U);
  EXPECT_EQ(p.owed[0].name.room, "bay-3");
  EXPECT_EQ(p.owed[1].at, after(500));
  EXPECT_EQ(p.answers.count, 0U);
}

TEST(TimeToAcknowledge, EndsWithoutAnAnswerWhenTheAlarmIsHidden) {
  JournalPage page;
  page.comes(0).line(50, "shelve", State::unacknowledged, State::shelved, "shelve", "M. Adeyemi");
  const auto p = watched_all(page.records, 0, 1000);
  EXPECT_EQ(p.unanswered, 1U);
  EXPECT_EQ(p.answers.count, 0U);
  EXPECT_TRUE(p.owed.empty());
}

TEST(Fleeting, IsGoneWithinAMinuteAndNotAcknowledged) {
  JournalPage page;
  page.of("bay-3", "gone-in-60").comes(0).goes(60);
  page.of("bay-3", "gone-in-61").comes(0).goes(60.001);
  page.of("bay-3", "seen-before").comes(0).seen(30).goes(50, State::acknowledged);
  const auto p = watched_all(page.records, 0, 1000);
  ASSERT_EQ(p.fleeting.size(), 1U);
  EXPECT_EQ(p.fleeting[0].name.alarm, "gone-in-60");
  EXPECT_EQ(verdict_of(p, "fleeting"), Verdict::beyond);
}

TEST(Stale, StandsForMoreThanADayWithoutABreak) {
  JournalPage page;
  page.of("bay-3", "a-day").comes(0).seen(10).goes(day_s, State::acknowledged);
  page.of("bay-3", "longer").comes(0).seen(10).goes(day_s + 1, State::acknowledged);
  page.of("bay-3", "shelved-between").comes(0).line(hour_s, "shelve", State::unacknowledged, State::shelved, "shelve");
  page.line(2 * hour_s, "transition", State::shelved, State::unacknowledged, "timer");
  const auto p = watched_all(page.records, 0, 1.05 * day_s);
  ASSERT_EQ(p.stale.size(), 1U);
  EXPECT_EQ(p.stale[0].name.alarm, "longer");
  EXPECT_TRUE(p.stale[0].ended);
}

// Five at once are not fewer than five. Before the period they came; it is the state at its start that counts.
TEST(Stale, IsCountedByTheWorstDayAndFromBeforeThePeriod) {
  JournalPage page;
  for (int i = 0; i < 5; ++i) page.of("bay-3", fmt::format("alarm-{}", i)).comes(-3 * day_s).seen(-3 * day_s + 60);
  page.of("bay-3", "alarm-0").goes(1.5 * day_s, State::acknowledged);
  const auto p = watched_all(page.records, 0, 3 * day_s);
  EXPECT_EQ(p.annunciations, 0U);
  EXPECT_EQ(p.stale.size(), 5U);
  EXPECT_EQ(p.stale_on_worst_day, 5U);
  EXPECT_EQ(verdict_of(p, "stale_on_worst_day"), Verdict::beyond);
  const auto later = watched_all(page.records, 2 * day_s, 3 * day_s);
  EXPECT_EQ(later.stale_on_worst_day, 4U);
  EXPECT_EQ(verdict_of(later, "stale_on_worst_day"), Verdict::within);
}

TEST(Chattering, IsCountedWhereTheDaemonRecordedThatItBegan) {
  JournalPage page;
  page.brief(0).brief(20).comes(40);
  page.line(40, "chattering", State::unacknowledged, State::unacknowledged, "");
  page.line(700, "chattering-ended", State::unacknowledged, State::unacknowledged, "");
  const auto p = watched_all(page.records, 0, 1000);
  ASSERT_EQ(p.chatterings.size(), 1U);
  EXPECT_EQ(p.annunciations, 3U);
  EXPECT_EQ(verdict_of(p, "chattering"), Verdict::beyond);
}

// By hand: shelved by A. from 1 h to 3 h; out of service by B. from 2 h to 5 h, which is what shows meanwhile; nothing
// lies over it afterwards.
TEST(Hidden, IsSummedByWhatIsShownAndByWhom) {
  JournalPage page;
  page.line(hour_s, "shelve", State::normal, State::shelved, "shelve", "A. Lind");
  page.line(2 * hour_s, "remove_from_service", State::shelved, State::out_of_service, "remove_from_service", "B. Noor");
  page.line(5 * hour_s, "return_to_service", State::out_of_service, State::normal, "return_to_service", "C. Paz");
  const auto p = watched_all(page.records, 0, day_s);
  ASSERT_EQ(p.hidden.size(), 2U);
  const auto& shelved = p.hidden.at({State::shelved, "A. Lind"});
  EXPECT_EQ(shelved.times, 1U);
  EXPECT_EQ(shelved.time, hours{1});
  EXPECT_EQ(p.hidden.at({State::out_of_service, "B. Noor"}).time, hours{3});
  // Of the second half hour of it nobody did anything, but the time counts.
  const auto part = watched_all(page.records, 1.5 * hour_s, 2 * hour_s);
  EXPECT_EQ(part.hidden.at({State::shelved, "A. Lind"}).times, 0U);
  EXPECT_EQ(part.hidden.at({State::shelved, "A. Lind"}).time, minutes{30});
}

TEST(Annunciations, BeneathASuppressionAreNone) {
  JournalPage page;
  page.line(0, "shelve", State::normal, State::shelved, "shelve", "A. Lind");
  page.line(10, "transition-suppressed", State::normal, State::unacknowledged, "condition");
  EXPECT_EQ(watched_all(page.records, 0, 100).annunciations, 0U);
  // Still there when the shelving ends: now it is one.
  page.line(200, "unshelve", State::shelved, State::unacknowledged, "unshelve", "A. Lind");
  EXPECT_EQ(watched_all(page.records, 0, 300).annunciations, 1U);
}

TEST(Annunciations, AreAlsoLatchedAlarmsThatComeOutOfASuppressionSounding) {
  JournalPage page;
  page.line(0, "remove_from_service", State::normal, State::out_of_service, "remove_from_service", "B. Noor");
  page.line(10, "return_to_service", State::out_of_service, State::latched_unacknowledged, "return_to_service");
  EXPECT_EQ(watched_all(page.records, 0, 100).annunciations, 1U);
}

TEST(Tests, AreNoLoadAndCountedApart) {
  JournalPage page;
  page.line(0, "test", State::normal, State::normal, "test", "R. Okafor");
  page.line(5, "transition", State::normal, State::unacknowledged, "test").seen(20);
  page.line(920, "transition", State::acknowledged, State::unacknowledged, "re_annunciation").seen(930);
  page.line(940, "transition", State::acknowledged, State::normal, "test");
  page.line(940, "test-ended", State::normal, State::normal, "");
  const auto p = watched_all(page.records, 0, 2000);
  EXPECT_EQ(p.annunciations, 0U);
  EXPECT_EQ(p.test_annunciations, 2U);
  EXPECT_EQ(p.tests.at("R. Okafor"), 1U);
  EXPECT_EQ(p.answers.count, 0U);
  EXPECT_DOUBLE_EQ(p.per_hour.value(), 0.0);
  // The alarm is in earnest again.
  page.comes(1500);
  EXPECT_EQ(watched_all(page.records, 0, 2000).annunciations, 1U);
}

TEST(Tests, DoNotMarkWhatComesAfterThem) {
  JournalPage page;
  page.line(0, "test", State::normal, State::normal, "test", "R. Okafor");
  page.line(5, "transition", State::normal, State::unacknowledged, "test").seen(20);
  page.line(30, "transition", State::acknowledged, State::normal, "test");
  page.line(40, "shelve", State::normal, State::shelved, "shelve", "A. Lind");
  page.line(50, "transition-suppressed", State::normal, State::unacknowledged, "condition");
  page.line(60, "transition", State::shelved, State::unacknowledged, "timer");
  const auto p = watched_all(page.records, 0, 100);
  EXPECT_EQ(p.annunciations, 1U);
  EXPECT_EQ(p.owed.size(), 1U);
}

TEST(Tests, GiveWayToTheRealCondition) {
  JournalPage page;
  page.line(0, "test", State::normal, State::normal, "test", "R. Okafor");
  page.line(5, "transition", State::normal, State::unacknowledged, "test");
  page.comes(8, State::unacknowledged).seen(20);
  const auto p = watched_all(page.records, 0, 100);
  EXPECT_EQ(p.test_annunciations, 1U);
  EXPECT_EQ(p.annunciations, 1U);
  EXPECT_EQ(p.answers.longest, seconds{12});
}

TEST(Refusals, AreCountedByActAndAreNothingElse) {
  JournalPage page;
  page.line(0, "shelve-refused", State::normal, State::normal, "shelve", "A. Lind");
  page.line(1, "acknowledge-refused", State::normal, State::normal, "acknowledge", "A. Lind");
  page.line(2, "acknowledge-refused", State::normal, State::normal, "acknowledge", "A. Lind");
  const auto p = watched_all(page.records, 0, 100);
  EXPECT_EQ(p.refusals, (std::map<std::string, std::size_t>{{"acknowledge", 2}, {"shelve", 1}}));
  EXPECT_EQ(p.annunciations + p.answers.count + p.hidden.size(), 0U);
}

TEST(Restart, IsNoNewAnnunciation) {
  JournalPage page;
  page.of("bay-3", "high-co2").comes(0);
  page.of("cryo-annexe", "low-oxygen").comes(10);
  page.of("bay-3", "high-co2").line(500, "restart", State::unacknowledged, State::unacknowledged, "");
  page.of("cryo-annexe", "low-oxygen").line(500, "restart", State::unacknowledged, State::unacknowledged, "");
  const auto p = watched_all(page.records, 0, 1000);
  EXPECT_EQ(p.restarts, 1U);
  EXPECT_EQ(p.annunciations, 2U);
  EXPECT_EQ(p.owed.at(0).at, after(0));
}

TEST(ClockThatWasSetBack, IsToldAndMakesNoTimeNegative) {
  JournalPage page;
  page.comes(1000).seen(400);
  const auto p = watched_all(page.records, 0, 2000);
  EXPECT_EQ(p.set_back, 1U);
  EXPECT_EQ(p.answers.longest, seconds{0});
}

} // namespace oxherd::daemon::alarm_report_test
