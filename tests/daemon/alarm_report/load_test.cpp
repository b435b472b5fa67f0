#include <gtest/gtest.h>

#include "daemon/alarm_report/load.hpp"
#include "daemon/alarm_report/watched.hpp"
#include "tests/daemon/alarm_report/journal_fixture.hpp"

namespace oxherd::daemon::alarm_report_test {

using namespace alarm_report;
using std::chrono::minutes;

std::vector<WallTime> every(double step_s, int n, double first_s = 0) {
  std::vector<WallTime> out;
  for (int i = 0; i < n; ++i) out.push_back(after(first_s + i * step_s));
  return out;
}

const std::vector<Stretch> whole_day{stretch(0, day_s)};

// By hand: one a minute from 0 on. The eleventh comes at 10 min, when the first is ten minutes old and no longer
// counts: never more than ten in ten minutes.
TEST(Flood, DoesNotBeginWithTenInTenMinutes) {
  EXPECT_TRUE(floods_in(every(60, 600), whole_day).empty());
  EXPECT_EQ(most_within(every(60, 600), minutes{10}), 10U);
}

// By hand: one every 50 s from 0 on, 20 of them, the last at 950 s. The eleventh, at 500 s, makes it a flood. Fewer
// than five are in the last ten minutes when the fifth to last, of 750 s, is ten minutes old: at 1350 s.
TEST(Flood, BeginsAboveTenInTenMinutesAndEndsBelowFive) {
  const auto floods = floods_in(every(50, 20), whole_day);
  ASSERT_EQ(floods.size(), 1U);
  EXPECT_EQ(floods[0].time, stretch(500, 1350));
  EXPECT_EQ(floods[0].annunciations, 20U);
}

// By hand: as above, then one every 120 s: the fifth to last turns ten minutes old at the moment when the next comes,
// so that five remain. With one every 130 s, of 1080, 1210, 1340 and 1470 s, only these four are left when that of 950
// s is ten minutes old, at 1550 s, before the next at 1600 s.
TEST(Flood, GoesOnWhileFiveStillComeInTenMinutes) {
  const auto then_every = [](double step_s) {
    auto times = every(50, 20);
    for (const auto at : every(step_s, 20, 950 + step_s)) times.push_back(at);
    return floods_in(times, whole_day);
  };
  ASSERT_EQ(then_every(120).size(), 1U);
  EXPECT_EQ(then_every(120)[0].annunciations, 40U);
  ASSERT_EQ(then_every(130).size(), 1U);
  EXPECT_EQ(then_every(130)[0].annunciations, 24U);
  EXPECT_EQ(then_every(130)[0].time, stretch(500, 1550));
}

TEST(Flood, EndsWhereWatchingDoes) {
  const std::vector<Stretch> watched{stretch(0, 1000), stretch(2000, 3000)};
  auto times = every(50, 20);
  times.push_back(after(2100));
  const auto floods = floods_in(times, watched);
  ASSERT_EQ(floods.size(), 1U);
  EXPECT_EQ(floods[0].time, stretch(500, 1000));
  EXPECT_EQ(floods[0].annunciations, 20U);
}

TEST(Flood, ComesTwiceWhenTheFirstIsOver) {
  auto times = every(10, 11);
  for (const auto at : every(10, 12, 2 * hour_s)) times.push_back(at);
  const auto floods = floods_in(times, whole_day);
  ASSERT_EQ(floods.size(), 2U);
  EXPECT_EQ(floods[0].time, stretch(100, 660)); // the seventh of eleven, of 60 s, is the fifth to last
  EXPECT_EQ(floods[1].annunciations, 12U);
}

// By hand: twelve in the first ten minutes, ten in the second.
TEST(TimeWithTooMany, IsThatOfTheWatchedPartsWithMoreThanTheLimit) {
  auto times = every(50, 12);
  for (const auto at : every(60, 10, 600)) times.push_back(at);
  const auto sum = [&](const std::vector<Stretch>& watched) {
    return time_with_more_than(10, minutes{10}, times, stretch(0, hour_s), watched);
  };
  EXPECT_EQ(sum(whole_day), minutes{10});
  EXPECT_EQ(sum({stretch(0, 240)}), minutes{4});
  EXPECT_EQ(sum({stretch(600, hour_s)}), minutes{0});
}

std::vector<std::int64_t> minutes_from(double from_s, int n) {
  std::vector<std::int64_t> out;
  const auto first = std::chrono::floor<minutes>(after(from_s)).time_since_epoch().count();
  for (int i = 0; i < n; ++i) out.push_back(first + i);
  return out;
}

TEST(WatchedTime, IsInterruptedByFiveMinutesWithoutAReading) {
  auto recorded = minutes_from(0, 10);
  for (const auto m : minutes_from(14 * minute_s, 6)) recorded.push_back(m); // four minutes are missing
  EXPECT_EQ(watched_stretches(recorded, {}, stretch(0, 20 * minute_s)), std::vector{stretch(0, 20 * minute_s)});
  recorded = minutes_from(0, 10);
  for (const auto m : minutes_from(15 * minute_s, 5)) recorded.push_back(m); // five are
  const auto watched = watched_stretches(recorded, {}, stretch(0, 20 * minute_s));
  EXPECT_EQ(watched, (std::vector{stretch(0, 10 * minute_s), stretch(15 * minute_s, 20 * minute_s)}));
  EXPECT_EQ(gaps_between(watched, stretch(0, 20 * minute_s)), std::vector{stretch(10 * minute_s, 15 * minute_s)});
}

TEST(WatchedTime, IsNoneWhereNothingWasRecorded) {
  EXPECT_TRUE(watched_stretches({}, {}, stretch(0, hour_s)).empty());
  EXPECT_EQ(gaps_between({}, stretch(0, hour_s)), std::vector{stretch(0, hour_s)});
}

TEST(WatchedTime, BeginsAndEndsWithThePeriodWhenTheLastMinuteIsNotYetOnTheDisk) {
  EXPECT_EQ(watched_stretches(minutes_from(0, 10), {}, stretch(-30, 10 * minute_s + 45)),
            std::vector{stretch(-30, 10 * minute_s + 45)});
  EXPECT_EQ(watched_stretches(minutes_from(0, 10), {}, stretch(0, hour_s)), std::vector{stretch(0, 10 * minute_s)});
}

// A daemon that has just started annunciates before its first reading is stored; one record years away from any kept
// reading tells nothing about the time around it.
TEST(WatchedTime, ReachesToARecordCloseToAReadingOnly) {
  JournalPage page;
  page.brief(28 * minute_s).comes(2 * hour_s);
  const auto watched = watched_stretches(minutes_from(30 * minute_s, 30), page.records, stretch(0, 4 * hour_s));
  ASSERT_EQ(watched.size(), 1U);
  EXPECT_EQ(watched[0], stretch(28 * minute_s, hour_s));
}

} // namespace oxherd::daemon::alarm_report_test
