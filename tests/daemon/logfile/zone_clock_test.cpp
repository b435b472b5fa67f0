#include "daemon/logfile/zone_clock.hpp"

#include <gtest/gtest.h>

#include "daemon/time_text.hpp"
#include "tests/daemon/logfile/zone_fixture.hpp"

namespace oxherd::daemon::zone_clock_test {

using config::ZoneRules;
using logfile::TimeFormat;
using logfile::ZoneClock;

std::shared_ptr<const ZoneRules> central_european_zone() {
  auto zone = ZoneRules::parse(zone_test::zone_bytes({}, {3600}, zone_test::central_europe));
  EXPECT_TRUE(zone);
  return std::make_shared<const ZoneRules>(std::move(*zone));
}

/// The times of day in UTC that these rows of one day have; "?" behind a doubtful one, "-" for none.
std::string read(std::string_view day, const std::vector<std::string>& rows) {
  auto format = TimeFormat::make("iso");
  ZoneClock clock{central_european_zone()};
  std::string out;
  for (const auto& row : rows) {
    const auto written = format->read(std::string{day} + "T" + row);
    EXPECT_TRUE(written) << row;
    if (!written) return out;
    ZoneClock::Resolved got;
    if (written->offset) {
      got.time = written->shown - std::chrono::milliseconds{*written->offset}.count();
      clock.saw(*got.time);
    } else {
      got = clock.resolve(written->shown);
    }
    if (!out.empty()) out += ' ';
    out += got.time ? rfc3339(WallTime{std::chrono::milliseconds{*got.time}}).substr(11, 5) : "-";
    if (got.doubtful) out += '?';
  }
  return out;
}

std::string read_in_spring(const std::vector<std::string>& rows) { return read("2026-03-29", rows); }
std::string read_in_autumn(const std::vector<std::string>& rows) { return read("2026-10-25", rows); }

TEST(ATimeInSpring, IsNoneWhenTheClocksSkipIt) {
  EXPECT_EQ(read_in_spring({"01:59", "02:00", "02:59:59.999", "03:00"}), "00:59 - - 01:00");
}

TEST(ATimeInAutumn, IsOfTheFirstPassUntilTheClockStepsBackThenOfTheSecond) {
  EXPECT_EQ(read_in_autumn({"01:50", "02:00", "02:30", "02:50", "02:00", "02:30", "02:50", "03:00"}),
            "23:50 00:00 00:30 00:50 01:00 01:30 01:50 02:00");
}

TEST(ATimeInAutumn, IsFoundInAFileOfOneRowAnHour) {
  EXPECT_EQ(read_in_autumn({"00:30", "01:30", "02:30", "02:30", "03:30"}), "22:30 23:30 00:30 01:30 02:30");
}

TEST(ATimeInAutumn, IsFoundInAFileOfOneRowEveryFortyFiveMinutes) {
  EXPECT_EQ(read_in_autumn({"01:15", "02:00", "02:45", "02:30", "03:15"}), "23:15 00:00 00:45 01:30 02:15");
}

TEST(ATimeInAutumn, IsFoundWhenStampsRepeatBecauseTheyAreCutToMinutes) {
  EXPECT_EQ(read_in_autumn({"01:59", "01:59", "02:00", "02:00", "02:59", "02:00", "02:00"}),
            "23:59 23:59 00:00 00:00 00:59 01:00 01:00");
}

TEST(ATimeInAutumn, IsDoubtfulInTheFirstRowsOfAFileUntilTheClockStepsBack) {
  EXPECT_EQ(read_in_autumn({"02:30", "02:40", "02:50", "02:00", "02:10"}), "00:30? 00:40? 00:50? 01:00 01:10");
}

TEST(ATimeInAutumn, IsDoubtfulAfterAGapThatMayHideTheChange) {
  EXPECT_EQ(read_in_autumn({"00:10", "00:20", "02:30", "02:40", "03:00"}), "22:10 22:20 00:30? 00:40? 02:00");
}

TEST(ATimeInAutumn, IsDoubtfulWhenBothPassesFollow) {
  EXPECT_EQ(read_in_autumn({"00:00", "01:30", "02:00"}), "22:00 23:30 00:00?") << "a row every 90 minutes";
}

TEST(ATimeInAutumn, IsDoubtfulForARowOutOfOrderAndTheNextOneIsNot) {
  EXPECT_EQ(read_in_autumn({"02:05+02:00", "02:40", "02:39", "02:41"}), "00:05 00:40 00:39? 00:41");
  EXPECT_EQ(read_in_autumn({"03:30", "02:30"}), "02:30 01:30?") << "back from after the change";
}

TEST(ATimeInAutumn, FollowsFromARowThatStatesItsOffset) {
  EXPECT_EQ(read_in_autumn({"02:10+01:00", "02:20"}), "01:10 01:20");
  EXPECT_EQ(read_in_autumn({"02:10+02:00", "02:20"}), "00:10 00:20");
}

TEST(ATimeOfAZone, IsOfTheSecondThatItIsInBefore1970Too) {
  const auto zone = ZoneRules::parse(zone_test::zone_bytes({{0, 1}}, {0, 3600}, ""));
  ASSERT_TRUE(zone);
  ZoneClock clock{std::make_shared<const ZoneRules>(*zone)};
  EXPECT_EQ(clock.resolve(-500).time, -500) << "half a second before the clocks skip an hour";
  EXPECT_FALSE(clock.resolve(0).time);
}

TEST(ATimeOfAZone, IsFoundAfterAJumpOfYears) {
  auto format = TimeFormat::make("iso");
  ZoneClock clock{central_european_zone()};
  const auto read_one = [&](std::string_view text) {
    return rfc3339(WallTime{std::chrono::milliseconds{*clock.resolve(format->read(text)->shown).time}});
  };
  EXPECT_EQ(read_one("2026-07-01T12:00:00.5"), "2026-07-01T10:00:00.500Z");
  EXPECT_EQ(read_one("2026-12-01T12:00:00.5"), "2026-12-01T11:00:00.500Z");
  EXPECT_EQ(read_one("2040-07-01T12:00:00"), "2040-07-01T10:00:00.000Z");
  EXPECT_EQ(read_one("1960-12-01T12:00:00.5"), "1960-12-01T11:00:00.500Z");
}

} // namespace oxherd::daemon::zone_clock_test
