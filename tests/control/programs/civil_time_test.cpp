#include "control/programs/civil_time.hpp"

#include <gtest/gtest.h> // before rapidcheck, whose header needs its names

#include <rapidcheck/gtest.h>

#include "tests/control/programs/zones.hpp"

namespace oxherd::control::civil_time_test {

using namespace zones;

TEST(CivilTime, IsUtcAndTheOffset) {
  EXPECT_EQ(local_time(central_europe, utc(2027y / 1 / 15, 12)), local(2027y / 1 / 15, 13));
  EXPECT_EQ(local_time(central_europe, utc(2027y / 7 / 15, 23)), local(2027y / 7 / 16, 1));
  EXPECT_EQ(first_instant_of(central_europe, local(2027y / 1 / 15, 13)), utc(2027y / 1 / 15, 12));
  EXPECT_EQ(first_instant_of(central_europe, local(2027y / 7 / 16, 1)), utc(2027y / 7 / 15, 23));
}

TEST(CivilTime, OfTheHourThatComesTwiceIsItsFirstPassing) {
  EXPECT_EQ(first_instant_of(central_europe, local(autumn_day, 1, 59)), utc(autumn_day, -1, 59));
  EXPECT_EQ(first_instant_of(central_europe, local(autumn_day, 2, 0)), utc(autumn_day, 0, 0));
  EXPECT_EQ(first_instant_of(central_europe, local(autumn_day, 2, 59)), utc(autumn_day, 0, 59));
  EXPECT_EQ(first_instant_of(central_europe, local(autumn_day, 3, 0)), utc(autumn_day, 2, 0));
}

TEST(CivilTime, ThatIsSkippedIsTheMomentOfTheChange) {
  EXPECT_EQ(first_instant_of(central_europe, local(spring_day, 1, 59)), utc(spring_day, 0, 59));
  for (const int minute : {0, 1, 30, 59})
    EXPECT_EQ(first_instant_of(central_europe, local(spring_day, 2, minute)), utc(spring_day, 1, 0)) << minute;
  EXPECT_EQ(first_instant_of(central_europe, local(spring_day, 3, 0)), utc(spring_day, 1, 0));
  EXPECT_EQ(first_instant_of(central_europe, local(spring_day, 3, 1)), utc(spring_day, 1, 1));
}

// Some zones change at midnight, so that a day begins at 01:00.
TEST(CivilTime, OfAMidnightThatIsSkippedIsTheMomentOfTheChange) {
  const auto change = utc(2027y / 3 / 28, 0);
  const auto zone = [&](WallTime at) { return at < change ? seconds{0} : seconds{3600}; };
  EXPECT_EQ(first_instant_of(zone, local(2027y / 3 / 28)), change);
}

RC_GTEST_PROP(CivilTime, IsShownAtItsFirstInstantAndNotAMillisecondBefore, ()) {
  // A day around each change, and any change at all: by how much, in which zone.
  const auto change = utc(2027y / 5 / 5, 1);
  const auto before = minutes{*rc::gen::inRange(-14 * 60, 14 * 60)};
  const auto behind = before + minutes{*rc::gen::inRange(-120, 121)};
  const auto zone = [&](WallTime at) -> seconds { return at < change ? before : behind; };
  const LocalTime wanted{change.time_since_epoch() + before + minutes{*rc::gen::inRange(-2000, 2001)}};
  const auto first = first_instant_of(zone, wanted);
  RC_ASSERT(local_time(zone, first) >= wanted);
  RC_ASSERT(local_time(zone, first - milliseconds{1}) < wanted);
  if (first != change) RC_ASSERT(local_time(zone, first) == wanted);
}

} // namespace oxherd::control::civil_time_test
