#include "config/zone_rules.hpp"

#include <chrono>

#include <gtest/gtest.h>

#include "config/zone_file.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"
#include "tests/daemon/logfile/zone_fixture.hpp"

namespace oxherd::daemon::zone_rules_test {

using config::load_zone;
using config::PosixZone;
using config::ZoneRules;
using zone_test::central_europe;
using zone_test::zone_bytes;

namespace chr = std::chrono;

std::int64_t at(int year, unsigned month, unsigned day, int hour = 0, int minute = 0) {
  const chr::sys_days date = chr::year{year} / static_cast<int>(month) / static_cast<int>(day);
  return chr::seconds{date.time_since_epoch()}.count() + hour * 3600 + minute * 60;
}

ZoneRules zone_of(const std::string& bytes) {
  auto zone = ZoneRules::parse(bytes);
  EXPECT_TRUE(zone) << zone.error();
  return zone.value_or(ZoneRules{});
}

std::int64_t offset_at(std::string_view rule, std::int64_t utc_s) {
  const auto zone = PosixZone::parse(rule);
  EXPECT_TRUE(zone) << rule;
  return zone ? zone->at(utc_s).offset_s : -1;
}

// Directive 2000/84/EC, articles 2 and 3: summer time begins at 1.00 a.m. GMT on the last Sunday in March and ends at
// 1.00 a.m. GMT on the last Sunday in October, from 2002 on. The last Sundays are the calendar's, found another way
// here: the last of seven days that is a Sunday (1970-01-04 was one).
TEST(AZoneOfTheEuropeanUnion, ChangesAsTheDirectiveSays) {
  const auto zone = load_zone("Europe/Amsterdam");
  ASSERT_TRUE(zone) << zone.error();
  for (int year = 2002; year <= 2100; ++year) {
    SCOPED_TRACE(year);
    for (const unsigned month : {3U, 10U}) {
      unsigned sunday = 25;
      while ((at(year, month, sunday) / 86400 - 3) % 7 != 0) ++sunday;
      const std::int64_t change_s = at(year, month, sunday, 1);
      const std::int64_t winter = 3600;
      const std::int64_t summer = 7200;
      EXPECT_EQ((*zone)->at(change_s - 1).offset_s, month == 3 ? winter : summer);
      EXPECT_EQ((*zone)->at(change_s).offset_s, month == 3 ? summer : winter);
    }
  }
}

// IANA time zone database, file europe: Belgium had no summer time from 1947 to 1976, central European summer time in
// 1985, and before 1880 the mean time of Brussels, UTC+00:17:30.
TEST(AZoneFile, KnowsThePast) {
  const auto zone = load_zone("Europe/Brussels");
  ASSERT_TRUE(zone) << zone.error();
  EXPECT_EQ((*zone)->at(at(1985, 7, 1)).offset_s, 7200);
  EXPECT_EQ((*zone)->at(at(1970, 7, 1)).offset_s, 3600) << "no summer time then";
  EXPECT_EQ((*zone)->at(at(1800, 1, 1)).offset_s, 17 * 60 + 30);
}

TEST(AZone, HasNoInstantForATimeThatTheClocksSkip) {
  const auto zone = zone_of(zone_bytes({}, {3600}, central_europe));
  EXPECT_TRUE(zone.instants_of(at(2026, 3, 29, 1, 59)).first);
  EXPECT_FALSE(zone.instants_of(at(2026, 3, 29, 2)).first);
  EXPECT_FALSE(zone.instants_of(at(2026, 3, 29, 2, 59)).first);
  const auto after = zone.instants_of(at(2026, 3, 29, 3));
  ASSERT_TRUE(after.first);
  EXPECT_EQ(after.first->utc_s, at(2026, 3, 29, 1));
  EXPECT_FALSE(after.last);
}

TEST(AZone, HasTwoInstantsForATimeThatComesTwice) {
  const auto zone = zone_of(zone_bytes({}, {3600}, central_europe));
  EXPECT_FALSE(zone.instants_of(at(2026, 10, 25, 1, 59)).last);
  const auto twice = zone.instants_of(at(2026, 10, 25, 2, 30));
  ASSERT_TRUE(twice.first && twice.last);
  EXPECT_EQ(twice.first->utc_s, at(2026, 10, 25, 0, 30));
  EXPECT_EQ(twice.first->offset_s, 7200);
  EXPECT_EQ(twice.last->utc_s, at(2026, 10, 25, 1, 30));
  EXPECT_EQ(twice.last->offset_s, 3600);
  EXPECT_FALSE(zone.instants_of(at(2026, 10, 25, 3)).last);
}

TEST(AZone, FollowsItsTransitionsThenItsRule) {
  const auto zone = zone_of(zone_bytes({{at(2000, 1, 1), 1}, {at(2010, 1, 1), 0}}, {-3600, 1800}, central_europe));
  EXPECT_EQ(zone.at(at(1999, 12, 31, 23, 59)).offset_s, -3600) << "type 0 before the first";
  EXPECT_EQ(zone.at(at(2000, 1, 1)).offset_s, 1800);
  EXPECT_EQ(zone.at(at(2010, 1, 1)).offset_s, 3600);
  EXPECT_EQ(zone.at(at(2010, 7, 1)).offset_s, 7200);
  EXPECT_EQ(zone.at(at(2010, 1, 2)).begin_s, at(2010, 1, 1)) << "the rule does not reach back";
}

TEST(AZone, StaysAsItsLastTransitionLeavesItWithoutARule) {
  const auto zone = zone_of(zone_bytes({{at(2000, 1, 1), 1}}, {0, 1800}, ""));
  EXPECT_EQ(zone.at(at(2400, 1, 1)).offset_s, 1800);
}

// Examples of POSIX.1-2017, Base Definitions 8.3, and of RFC 9636, section 3.3.1 and appendix B.
TEST(ARule, IsReadInEveryForm) {
  EXPECT_EQ(offset_at("UTC0", at(2026, 7, 1)), 0);
  EXPECT_EQ(offset_at("<+0330>-3:30", at(2026, 7, 1)), 12600);
  EXPECT_EQ(offset_at("EST5EDT,M3.2.0,M11.1.0", at(2026, 7, 1)), -4 * 3600);
  EXPECT_EQ(offset_at("EST5EDT4,J60/2,J300/2", at(2024, 3, 1, 7)), -4 * 3600) << "J60 is 1 March in a leap year too";
  EXPECT_EQ(offset_at("EST5EDT4,J60/2,J300/2", at(2024, 3, 1, 6, 59)), -5 * 3600);
  EXPECT_EQ(offset_at("EST5EDT4,59/2,299/2", at(2024, 2, 29, 7)), -4 * 3600) << "day 59 counts the 29th of February";
  EXPECT_EQ(offset_at("NZST-12NZDT,M9.5.0,M4.1.0/3", at(2026, 1, 1)), 13 * 3600) << "summer over the new year";
  EXPECT_EQ(offset_at("<-02>2<-01>,M3.5.0/-1,M10.5.0/0", at(2026, 3, 29, 1)), -3600) << "22:00 on Saturday, 00:00 UTC";
  EXPECT_EQ(offset_at("<-02>2<-01>,M3.5.0/-1,M10.5.0/0", at(2026, 3, 29, 0, 59)), -7200);
  EXPECT_EQ(offset_at("IST-2IDT,M3.4.4/26,M10.5.0", at(2026, 3, 27)), 3 * 3600) << "02:00 on the day after Thursday";
  for (const int month : {1, 4, 7, 12})
    EXPECT_EQ(offset_at("EST5EDT,0/0,J365/25", at(2026, static_cast<unsigned>(month), 1, 5)), -4 * 3600)
        << "summer time all year";
}

TEST(ARule, IsRefusedInAnyOtherForm) {
  for (const char* text : {"", "CE-1", "CET", "CET-1CEST", "CET-1CEST,M3.5.0", "CET-1CEST,M13.5.0,M10.5.0",
                           "CET-1CEST,M3.6.0,M10.5.0", "CET-1CEST,M3.5.7,M10.5.0", "CET-1CEST,J0,J5", "CET-1CEST,366,5",
                           "CET-25", "<CET-1", "CET-1CEST,M3.5.0,M10.5.0/3x", "CET-1CEST,M3.5.0/168,M10.5.0"})
    EXPECT_FALSE(PosixZone::parse(text)) << text;
}

TEST(AZoneFile, IsRefusedAtAnyLengthThatIsNotItsOwn) {
  const auto whole = zone_bytes({{0, 1}, {1000, 0}}, {0, 3600}, central_europe);
  ASSERT_TRUE(ZoneRules::parse(whole));
  for (std::size_t n = 0; n < whole.size(); ++n) EXPECT_FALSE(ZoneRules::parse(whole.substr(0, n))) << n;
}

TEST(AZoneFile, IsRefusedWhenItContradictsItself) {
  EXPECT_FALSE(ZoneRules::parse(zone_bytes({{1000, 0}, {1000, 1}}, {0, 3600}, ""))) << "times that do not increase";
  EXPECT_FALSE(ZoneRules::parse(zone_bytes({{0, 2}}, {0, 3600}, ""))) << "a type that is not there";
  EXPECT_FALSE(ZoneRules::parse(zone_bytes({}, {26 * 3600}, ""))) << "an offset of more than a day";
  EXPECT_FALSE(ZoneRules::parse(zone_bytes({}, {}, "UTC0"))) << "no type at all";
  auto first_version = zone_bytes({}, {0}, "UTC0");
  first_version[4] = '\0';
  EXPECT_NE(ZoneRules::parse(first_version).error().find("version 1"), std::string::npos);
  EXPECT_NE(ZoneRules::parse(zone_bytes({}, {0}, "UTC0", 1)).error().find("leap seconds"), std::string::npos);
}

TEST(LoadingAZone, SaysWhatToDoAboutANameThatIsNone) {
  const auto slip = load_zone("Europe/Amsterdm").error();
  EXPECT_NE(slip.find("did you mean \"Europe/Amsterdam\"?"), std::string::npos) << slip;
  EXPECT_NE(slip.find("write \"UTC\", an offset such as \"+01:00\""), std::string::npos) << slip;
  for (const char* name : {"", "/etc/passwd", "../zoneinfo/UTC", "Europe", "Europe/", "Europe//Paris", "CET\n"})
    EXPECT_NE(load_zone(name).error().find("no time zone of"), std::string::npos) << name;
}

TEST(LoadingAZone, SaysThatTheZonesAreMissing) {
  const cli_test::TemporaryDirectory directory;
  const auto trouble = load_zone("Europe/Amsterdam", directory.path()).error();
  EXPECT_NE(trouble.find("install the package tzdata"), std::string::npos) << trouble;
}

TEST(LoadingAZone, NamesTheFileThatIsNone) {
  const cli_test::TemporaryDirectory directory;
  const auto file = directory.file("Broken", "no zone");
  const auto trouble = load_zone("Broken", directory.path()).error();
  EXPECT_EQ(trouble.substr(0, file.size()), file);
  EXPECT_NE(trouble.find("is damaged; choose another zone"), std::string::npos) << trouble;
}

} // namespace oxherd::daemon::zone_rules_test
