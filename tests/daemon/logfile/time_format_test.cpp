#include "daemon/logfile/time_format.hpp"

#include <gtest/gtest.h>

#include "daemon/time_text.hpp"

namespace oxherd::daemon::time_format_test {

using logfile::FileTime;
using logfile::TimeFormat;
using std::chrono::minutes;

/// The instant as RFC 3339 in UTC, "-" when the text is refused.
std::string read(std::string_view format, std::string_view text, minutes offset = minutes{0}) {
  auto made = TimeFormat::make(format);
  if (!made) return made.error();
  const auto time = made->parse(text, offset);
  return time ? rfc3339(WallTime{std::chrono::milliseconds{*time}}) : "-";
}

TEST(AnIsoTime, MayHaveAnOffsetAFractionAndNoSeconds) {
  EXPECT_EQ(read("iso", "2026-03-01T08:15:30Z"), "2026-03-01T08:15:30.000Z");
  EXPECT_EQ(read("iso", "2026-03-01 08:15:30.25+02:00"), "2026-03-01T06:15:30.250Z");
  EXPECT_EQ(read("iso", "2026-03-01T08:15:30,125-0330"), "2026-03-01T11:45:30.125Z");
  EXPECT_EQ(read("iso", "2026-03-01T08:15"), "2026-03-01T08:15:00.000Z");
  EXPECT_EQ(read("iso", "2026-03-01T08:15:30", minutes{60}), "2026-03-01T07:15:30.000Z");
  EXPECT_EQ(read("iso", "2026-03-01T08:15:30Z", minutes{60}), "2026-03-01T08:15:30.000Z") << "its own offset wins";
}

TEST(AnIsoTime, IsRefusedWhenItNamesNoInstant) {
  for (const char* text : {"", "2026-02-30T00:00:00Z", "2026-13-01T00:00:00Z", "2026-03-01T25:00:00Z",
                           "2026-03-01T08:60:00Z", "2026-03-01", "2026-03-01T08:15:30Zx", "26-03-01T08:15:30",
                           "2026-03-01T08:15:30+25:00", "2026-03-01T08:15:61Z"})
    EXPECT_EQ(read("iso", text), "-") << text;
}

// ISO 8601-1:2019, 4.3.8: 24:00 as the end of a day (from memory). POSIX time has no instant of its own for a leap
// second.
TEST(AnIsoTime, TakesMidnightAsTheEndOfADayAndALeapSecond) {
  EXPECT_EQ(read("iso", "2026-02-28T24:00:00Z"), "2026-03-01T00:00:00.000Z");
  EXPECT_EQ(read("iso", "2016-12-31T23:59:60Z"), "2017-01-01T00:00:00.000Z");
}

TEST(APattern, ReadsWhatLoggersWrite) {
  EXPECT_EQ(read("%d.%m.%Y %H:%M:%S", "02.03.2026 06:05:00", minutes{60}), "2026-03-02T05:05:00.000Z");
  EXPECT_EQ(read("%m/%d/%y %I:%M:%S %p", "3/2/26 12:05:09 AM"), "2026-03-02T00:05:09.000Z");
  EXPECT_EQ(read("%m/%d/%y %I:%M %p", "3/2/26 12:05 pm"), "2026-03-02T12:05:00.000Z");
  EXPECT_EQ(read("%d-%b-%Y %T", "2-Mar-2026 06:05:00,5"), "2026-03-02T06:05:00.500Z");
  EXPECT_EQ(read("%d %B %Y %R", "2 march 2026 06:05"), "2026-03-02T06:05:00.000Z");
  EXPECT_EQ(read("%Y,%j,%H%M", "2026,061,0605"), "2026-03-02T06:05:00.000Z");
  EXPECT_EQ(read("%Y%m%dT%H%M%S%z", "20260302T060500+0100"), "2026-03-02T05:05:00.000Z");
  EXPECT_EQ(read("%F %H:%M:%S.%f", "2026-03-02 06:05:00.123456"), "2026-03-02T06:05:00.123Z");
  EXPECT_EQ(read("%y%m%d %H", "690302 06"), "1969-03-02T06:00:00.000Z");
  EXPECT_EQ(read("100%% %F %H", "100% 2026-03-02 06"), "2026-03-02T06:00:00.000Z");
}

TEST(APattern, RefusesATextThatDoesNotFit) {
  EXPECT_EQ(read("%d.%m.%Y %H:%M", "02/03/2026 06:05"), "-");
  EXPECT_EQ(read("%d.%m.%Y %H:%M", "02.03.2026 06:05 "), "-");
  EXPECT_EQ(read("%d.%m.%Y %H:%M", "31.02.2026 06:05"), "-");
  EXPECT_EQ(read("%d.%m.%Y %I:%M %p", "02.03.2026 13:05 PM"), "-");
  EXPECT_EQ(read("%Y-%j %H", "2026-366 06"), "-");
  EXPECT_EQ(read("%Y-%j %H", "2024-366 06"), "2024-12-31T06:00:00.000Z");
}

TEST(AnEpochTime, CountsSecondsOrMilliseconds) {
  EXPECT_EQ(read("epoch-s", "1772431500"), "2026-03-02T06:05:00.000Z");
  EXPECT_EQ(read("epoch-s", "1772431500.25"), "2026-03-02T06:05:00.250Z");
  EXPECT_EQ(read("epoch-s", "1772431500,25"), "2026-03-02T06:05:00.250Z");
  EXPECT_EQ(read("epoch-ms", "1772431500250"), "2026-03-02T06:05:00.250Z");
  EXPECT_EQ(read("epoch-s", "1e300"), "-");
  EXPECT_EQ(read("epoch-s", "now"), "-");
}

TEST(AFormat, ThatNamesNoInstantIsRefusedWithASentence) {
  EXPECT_NE(read("%d.%m.%Y", "").find("lacks year, day or hour"), std::string::npos);
  EXPECT_NE(read("ISO", "").find("neither \"iso\""), std::string::npos);
  EXPECT_NE(read("%Q", "").find("no conversion \"%Q\""), std::string::npos);
  EXPECT_NE(read("%Y%", "").find("no conversion"), std::string::npos);
}

// The day of the last time is kept; a change of day must not be missed.
TEST(AFormat, FollowsTheDays) {
  auto format = TimeFormat::make("iso");
  ASSERT_TRUE(format);
  const auto first = format->parse("2026-03-01T23:59:59Z", minutes{0});
  const auto second = format->parse("2026-03-02T00:00:00Z", minutes{0});
  const auto back = format->parse("2026-03-01T00:00:00Z", minutes{0});
  ASSERT_TRUE(first && second && back);
  EXPECT_EQ(*second - *first, 1000);
  EXPECT_EQ(*second - *back, 86'400'000);
}

TEST(AZone, IsUtcOrAnOffset) {
  EXPECT_EQ(logfile::offset_named("UTC"), minutes{0});
  EXPECT_EQ(logfile::offset_named("Z"), minutes{0});
  EXPECT_EQ(logfile::offset_named("+01:00"), minutes{60});
  EXPECT_EQ(logfile::offset_named("-03:30"), minutes{-210});
  EXPECT_FALSE(logfile::offset_named("CET"));
  EXPECT_FALSE(logfile::offset_named("+1"));
  EXPECT_FALSE(logfile::offset_named(""));
}

} // namespace oxherd::daemon::time_format_test
