#include "control/programs/sun.hpp"

#include <cmath>
#include <optional>

#include <gtest/gtest.h> // before rapidcheck, whose header needs its names

#include <rapidcheck/gtest.h>

namespace oxherd::control::sun_test {

using namespace std::chrono;

WallTime utc(year_month_day date, int h, int min, int s = 0) {
  return sys_days{date} + hours{h} + minutes{min} + seconds{s};
}
double seconds_between(WallTime a, WallTime b) { return std::abs(duration<double>{a - b}.count()); }

struct Published {
  Place place;
  year_month_day date; // of the noon
  std::optional<WallTime> sunrise, noon, sunset;
};

// Meeus gives 0.01 deg for the longitude by these equations (from memory). That is 2.4 s of the sun's way and as much
// again through its declination at middle latitudes; a second is for rounding in both.
constexpr double agreement_s = 6.0;

void expect_agreement(const Published& row) {
  SCOPED_TRACE(static_cast<int>(row.date.year()));
  const auto sun = sun_on(row.place, row.date);
  EXPECT_EQ(sun.daylight, Daylight::rises_and_sets);
  EXPECT_LE(seconds_between(sun.sunrise, row.sunrise.value_or(sun.sunrise)), agreement_s);
  EXPECT_LE(seconds_between(sun.noon, row.noon.value_or(sun.noon)), agreement_s);
  EXPECT_LE(seconds_between(sun.sunset, row.sunset.value_or(sun.sunset)), agreement_s);
}

// The first rows are the worked example of Reda and Andreas, Solar Position Algorithm, NREL/TP-560-34302, as repeated
// in the README of a port of it: sunrise 06:12:43 and sunset 17:20:19, seven hours behind UTC. Their program works on
// the day of UTC, so that its sunset is that of the evening before, at 00:20:19 UTC on the 17th. The other rows are
// results of the same algorithm as printed in the tests of pvlib (noon only where that prints one).
TEST(Sun, AgreesWithNrelsAlgorithm) {
  constexpr Place golden{39.742476, -105.1786};
  constexpr Place south{-35.0, 0.0}, north{35.0, 0.0};
  const auto d1 = 1996y / 7 / 5, d2 = 2004y / 12 / 4, d3 = 1994y / 1 / 2;
  const Published rows[] = {
      {golden, 2003y / 10 / 17, utc(2003y / 10 / 17, 13, 12, 43), {}, {}},
      {golden, 2003y / 10 / 16, {}, {}, utc(2003y / 10 / 17, 0, 20, 19)},
      {south, d1, utc(d1, 7, 8, 15), utc(d1, 12, 4, 36), utc(d1, 17, 1, 4)},
      {south, d2, utc(d2, 4, 38, 57), utc(d2, 11, 50, 22), utc(d2, 19, 2, 3)},
      {north, d3, utc(d3, 7, 8, 12), {}, utc(d3, 16, 59, 55)},
  };
  for (const auto& row : rows) expect_agreement(row);
}

// PyEphem 4.1.4, a general-purpose library of ephemerides: centre of the sun at -0:49:58.8, no refraction of its own.
TEST(Sun, AgreesWithAnEphemerisInThisCenturyAndBeforeIt) {
  constexpr Place place{52.5, 13.4};
  const auto d1 = 1930y / 10 / 5, d2 = 2028y / 2 / 29, d3 = 2060y / 7 / 1, d4 = 2090y / 4 / 10;
  const Published rows[] = {
      {place, d1, utc(d1, 5, 12, 54), utc(d1, 10, 55, 2), utc(d1, 16, 36, 13)},
      {place, d2, utc(d2, 5, 54, 9), utc(d2, 11, 18, 48), utc(d2, 16, 44, 23)},
      {place, d3, utc(d3, 2, 48, 31), utc(d3, 11, 10, 31), utc(d3, 19, 32, 7)},
      {place, d4, utc(d4, 4, 19, 11), utc(d4, 11, 7, 36), utc(d4, 17, 57, 9)},
  };
  for (const auto& row : rows) expect_agreement(row);
}

// US Naval Observatory, as printed in the tests of pvlib (39 N 105 W at UTC-7; 39.917 N 116.383 E at UTC+8). Whole
// minutes are printed, so half a minute is added to the stated minute.
TEST(Sun, AgreesWithTheNavalObservatoryWithinTheStatedMinute) {
  constexpr Place a{39.0, -105.0}, b{39.917, 116.383};
  struct Row {
    Place place;
    int offset_h;
    year_month_day date;
    int rise_min, set_min; // of the local day
  };
  const Row rows[] = {
      {a, -7, 2015y / 1 / 2, 7 * 60 + 19, 16 * 60 + 49}, {a, -7, 2015y / 4 / 2, 5 * 60 + 43, 18 * 60 + 24},
      {a, -7, 2015y / 8 / 2, 5 * 60 + 1, 19 * 60 + 10},  {a, -7, 2015y / 12 / 2, 7 * 60 + 1, 16 * 60 + 38},
      {b, 8, 2015y / 1 / 2, 7 * 60 + 36, 17 * 60},       {b, 8, 2015y / 4 / 2, 5 * 60 + 58, 18 * 60 + 39},
      {b, 8, 2015y / 8 / 2, 5 * 60 + 13, 19 * 60 + 28},  {b, 8, 2015y / 12 / 2, 7 * 60 + 17, 16 * 60 + 50},
  };
  for (const auto& row : rows) {
    SCOPED_TRACE(row.rise_min);
    const auto sun = sun_on(row.place, row.date);
    EXPECT_LT(seconds_between(sun.sunrise, utc(row.date, -row.offset_h, row.rise_min)), 90.0);
    EXPECT_LT(seconds_between(sun.sunset, utc(row.date, -row.offset_h, row.set_min)), 90.0);
  }
}

// US Naval Observatory for 78.216667 N 15.633333 E, as printed in the test data of the crate solar-positioning (in
// UTC). Ten minutes are stated for such latitudes.
TEST(Sun, AgreesWithTheNavalObservatoryFarNorth) {
  constexpr Place north{78.216667, 15.633333};
  struct Row {
    year_month_day date;
    int rise_min, set_min;
  };
  const Row rows[] = {{2020y / 2 / 25, 8 * 60 + 11, 14 * 60 + 13}, {2020y / 3 / 5, 6 * 60 + 48, 15 * 60 + 33},
                      {2020y / 3 / 15, 5 * 60 + 27, 16 * 60 + 49}, {2020y / 3 / 25, 4 * 60 + 9, 18 * 60 + 2},
                      {2020y / 4 / 5, 2 * 60 + 35, 19 * 60 + 32},  {2020y / 4 / 15, 38, 21 * 60 + 33}};
  for (const auto& row : rows) {
    SCOPED_TRACE(row.rise_min);
    const auto sun = sun_on(north, row.date);
    EXPECT_LT(seconds_between(sun.sunrise, utc(row.date, 0, row.rise_min)), 630.0);
    EXPECT_LT(seconds_between(sun.sunset, utc(row.date, 0, row.set_min)), 630.0);
  }
  for (const auto date : {2020y / 1 / 5, 2020y / 1 / 15, 2020y / 1 / 25, 2020y / 2 / 5, 2020y / 2 / 15})
    EXPECT_EQ(sun_on(north, date).daylight, Daylight::polar_night);
  for (const auto date : {2020y / 4 / 25, 2020y / 5 / 5, 2020y / 6 / 15, 2020y / 7 / 25, 2020y / 8 / 5})
    EXPECT_EQ(sun_on(north, date).daylight, Daylight::polar_day);
}

TEST(Sun, HasNoSunriseInPolarNightAndSaysSo) {
  const auto night = sun_on({78.0, 15.0}, 2026y / 12 / 21);
  EXPECT_EQ(night.daylight, Daylight::polar_night);
  EXPECT_EQ(night.sunrise, night.noon);
  EXPECT_EQ(night.sunset, night.noon);
  const auto day = sun_on({78.0, 15.0}, 2026y / 6 / 21);
  EXPECT_EQ(day.daylight, Daylight::polar_day);
  EXPECT_EQ(day.sunrise, day.noon - hours{12});
  EXPECT_EQ(day.sunset, sun_on({78.0, 15.0}, 2026y / 6 / 22).sunrise); // there is no night between them
}

TEST(Sun, IsDefinedAtThePoles) {
  EXPECT_EQ(sun_on({90.0, 0.0}, 2026y / 6 / 21).daylight, Daylight::polar_day);
  EXPECT_EQ(sun_on({90.0, 0.0}, 2026y / 12 / 21).daylight, Daylight::polar_night);
  EXPECT_EQ(sun_on({-90.0, 0.0}, 2026y / 12 / 21).daylight, Daylight::polar_day);
}

// At the equinox the centre of the sun is up for 12 hours; refraction and the radius of the sun add 2 * 0.833 deg of
// hour angle at the equator, which is 6.7 minutes, and more by 1 / cos(latitude). A solar day is 18 s shorter than 24
// hours then, which takes 0.15 minutes from its half.
TEST(Sun, IsUpALittleLongerThanHalfTheDayAtTheEquinox) {
  for (const double latitude : {-50.0, 0.0, 30.0, 60.0}) {
    const auto sun = sun_on({latitude, 10.0}, 2026y / 3 / 20);
    const double excess_min = duration<double>{sun.sunset - sun.sunrise}.count() / 60.0 - 720.0;
    // The declination moves by 0.4 deg a day, so the day of the equinox may be off by that times tan(latitude).
    EXPECT_NEAR(excess_min, 6.66 / std::cos(latitude * 0.0174533) - 0.15,
                2.0 * std::abs(std::tan(latitude * 0.0174533)) + 0.1)
        << latitude;
  }
}

TEST(Sun, KnowsTheLeapDay) {
  const auto before = sun_on({52.5, 13.4}, 2028y / 2 / 28);
  const auto leap = sun_on({52.5, 13.4}, 2028y / 2 / 29);
  const auto next = sun_on({52.5, 13.4}, 2028y / 3 / 1);
  EXPECT_GT(leap.sunrise - before.sunrise, hours{23} + minutes{57});
  EXPECT_LT(leap.sunrise - before.sunrise, hours{23} + minutes{58} + seconds{30});
  EXPECT_NEAR(duration<double>{next.sunrise - leap.sunrise}.count(),
              duration<double>{leap.sunrise - before.sunrise}.count(), 10.0);
}

RC_GTEST_PROP(Sun, RisesBeforeNoonAndSetsAfterItAboutAsLong, ()) {
  const Place place{*rc::gen::inRange(-9000, 9001) / 100.0, *rc::gen::inRange(-18000, 18001) / 100.0};
  const year_month_day date{sys_days{days{*rc::gen::inRange(0, 40000)}}};
  const auto sun = sun_on(place, date);
  if (sun.daylight != Daylight::rises_and_sets) {
    RC_ASSERT(std::abs(place.latitude_deg) > 65.0); // 90 less the greatest declination and 0.833
    return;
  }
  RC_ASSERT(sun.sunrise < sun.noon && sun.noon < sun.sunset);
  RC_ASSERT(sun.sunset - sun.sunrise < hours{24});
  // Declination moves by up to 0.4 deg a day: mornings and afternoons are equal but for that.
  if (std::abs(place.latitude_deg) < 60.0)
    RC_ASSERT(seconds_between(sun.noon, sun.sunrise + (sun.sunset - sun.sunrise) / 2) < 180.0);
}

RC_GTEST_PROP(Sun, ComesAbout24HoursLaterTheNextDay, ()) {
  const Place place{*rc::gen::inRange(-6000, 6001) / 100.0, *rc::gen::inRange(-18000, 18001) / 100.0};
  const sys_days date{days{*rc::gen::inRange(0, 40000)}};
  const auto today = sun_on(place, date), tomorrow = sun_on(place, date + days{1});
  RC_ASSERT(seconds_between(tomorrow.sunrise, today.sunrise + hours{24}) < 360.0);
  RC_ASSERT(seconds_between(tomorrow.noon, today.noon + hours{24}) < 31.0); // the equation of time: 30 s a day at most
}

// Half a year turns the seasons: the day in the north is then nearly the day in the south.
RC_GTEST_PROP(Sun, GivesTheSouthTheNorthsDayHalfAYearLater, ()) {
  const double latitude = *rc::gen::inRange(-5500, 5501) / 100.0;
  const sys_days date{days{*rc::gen::inRange(10000, 30000)}};
  const auto north = sun_on({latitude, 0.0}, date), south = sun_on({-latitude, 0.0}, date + days{183});
  RC_ASSERT(std::abs(duration<double>{(north.sunset - north.sunrise) - (south.sunset - south.sunrise)}.count()) <
            1200.0);
}

} // namespace oxherd::control::sun_test
