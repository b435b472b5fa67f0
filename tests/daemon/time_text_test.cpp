#include "daemon/time_text.hpp"

#include <cstdlib>

#include <gtest/gtest.h>

namespace oxherd::daemon::time_text_test {

WallTime unix_ms(std::int64_t ms) { return WallTime{std::chrono::milliseconds{ms}}; }

// RFC 3339, section 5.8, the five examples; Unix times by the Gregorian calendar.
TEST(Rfc3339, ReadsTheExamplesOfTheStandard) {
  struct Row {
    std::string_view text;
    std::int64_t unix_ms;
  };
  constexpr Row rows[] = {{"1985-04-12T23:20:50.52Z", 482196050520},
                          {"1996-12-19T16:39:57-08:00", 851042397000},
                          {"1990-12-31T23:59:60Z", 662688000000},
                          {"1990-12-31T15:59:60-08:00", 662688000000},
                          {"1937-01-01T12:00:27.87+00:20", -1041337172130}};
  for (const auto& row : rows) {
    SCOPED_TRACE(row.text);
    const auto read = parse_rfc3339(row.text);
    ASSERT_TRUE(read);
    EXPECT_EQ(read->time_since_epoch().count(), row.unix_ms);
  }
}

TEST(Rfc3339, WritesUtcWithMilliseconds) {
  EXPECT_EQ(rfc3339(unix_ms(482196050520)), "1985-04-12T23:20:50.520Z");
  EXPECT_EQ(rfc3339(unix_ms(-1041337172130)), "1937-01-01T11:40:27.870Z");
  EXPECT_EQ(rfc3339(unix_ms(0)), "1970-01-01T00:00:00.000Z");
  EXPECT_EQ(rfc3339(unix_ms(-1)), "1969-12-31T23:59:59.999Z");
}

TEST(Rfc3339, ReadsBackWhatItWroteOverFourCenturies) {
  for (std::int64_t ms = -6'000'000'000'000; ms < 6'000'000'000'000; ms += 86'399'999'977) {
    const auto read = parse_rfc3339(rfc3339(unix_ms(ms)));
    ASSERT_TRUE(read) << ms;
    EXPECT_EQ(*read, unix_ms(ms));
  }
}

TEST(Rfc3339, TakesLowerCaseASpaceAndAnUnknownOffset) {
  const auto plain = parse_rfc3339("2026-03-01T08:15:30Z");
  ASSERT_TRUE(plain);
  EXPECT_EQ(parse_rfc3339("2026-03-01t08:15:30z"), plain);      // section 5.6, note
  EXPECT_EQ(parse_rfc3339("2026-03-01 08:15:30Z"), plain);      // section 5.6, note
  EXPECT_EQ(parse_rfc3339("2026-03-01T08:15:30-00:00"), plain); // section 4.3
}

TEST(Rfc3339, CutsAFractionAtTheMillisecond) {
  const auto read = parse_rfc3339("2026-03-01T08:15:30.2509999Z");
  ASSERT_TRUE(read);
  EXPECT_EQ(rfc3339(*read), "2026-03-01T08:15:30.250Z");
}

TEST(Rfc3339, RefusesWhatIsNotATime) {
  for (const std::string_view text : {"",
                                      "2026",
                                      "2026-03-01",
                                      "2026-03-01T08:15:30",
                                      "2026-03-01T08:15Z",
                                      "2026-03-01T08:15:30.Z",
                                      "2026-03-01T08:15:30Zx",
                                      "2026-02-29T00:00:00Z",
                                      "2026-13-01T00:00:00Z",
                                      "2026-00-01T00:00:00Z",
                                      "2026-03-00T00:00:00Z",
                                      "2026-03-01T24:00:00Z",
                                      "2026-03-01T08:60:00Z",
                                      "2026-03-01T08:15:61Z",
                                      "2026-03-01T08:15:60Z",
                                      "2026-03-01T08:15:30+24:00",
                                      "2026-03-01T08:15:30+01:60",
                                      "2026-03-01T08:15:30+1:00",
                                      "+026-03-01T08:15:30Z",
                                      "2026/03/01T08:15:30Z",
                                      "2026-03-01T08:15:30+0100",
                                      " 2026-03-01T08:15:30Z"})
    EXPECT_FALSE(parse_rfc3339(text)) << text;
}

/// Sets the time zone of this process for one test.
class TimeZone {
public:
  explicit TimeZone(const char* name) {
    if (const char* old = std::getenv("TZ")) before_ = old;
    ::setenv("TZ", name, 1);
    ::tzset(); // localtime_r alone need not notice a changed TZ
  }
  ~TimeZone() {
    if (before_)
      ::setenv("TZ", before_->c_str(), 1);
    else
      ::unsetenv("TZ");
    ::tzset();
  }

private:
  std::optional<std::string> before_;
};

TEST(Rfc3339Local, GivesTheSameInstantWithItsOffset) {
  for (const char* zone : {"UTC0", "CET-1CEST,M3.5.0,M10.5.0/3", "NST3:30", "LINT-14"}) {
    const TimeZone set{zone};
    for (const std::int64_t ms : {1772352930000, 1782352930000}) {
      const std::string text = rfc3339_local(unix_ms(ms));
      EXPECT_EQ(parse_rfc3339(text), unix_ms(ms)) << zone << ": " << text;
    }
  }
  const TimeZone set{"CET-1CEST,M3.5.0,M10.5.0/3"};
  EXPECT_EQ(rfc3339_local(unix_ms(1772352930250)), "2026-03-01T09:15:30+01:00");
  EXPECT_EQ(rfc3339_local(unix_ms(1782352930000)), "2026-06-25T04:02:10+02:00");
}

TEST(Rfc3339Local, WritesAnOffsetWestOfGreenwichWithAMinus) {
  const TimeZone set{"NST3:30"};
  EXPECT_EQ(rfc3339_local(unix_ms(1772352930000)), "2026-03-01T04:45:30-03:30");
}

} // namespace oxherd::daemon::time_text_test
