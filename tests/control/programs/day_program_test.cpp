#include "control/programs/day_program.hpp"

#include <cmath>

#include <gtest/gtest.h>

#include "tests/control/programs/zones.hpp"

namespace oxherd::control::day_program_test {

using namespace zones;

constexpr Place berlin{52.52, 13.4}, far_north{69.65, 18.96};
const Locality civil{central_europe, {}};

Anchor at(int h, int min = 0) { return {Anchor::To::clock, hours{h} + minutes{min}}; }
Anchor sunrise(minutes offset = minutes{0}) { return {Anchor::To::sunrise, offset}; }
Anchor sunset(minutes offset = minutes{0}) { return {Anchor::To::sunset, offset}; }
Ramp over(minutes time) { return {.over = time, .most_per_h = {}}; }
Ramp at_most(double per_h) { return {.over = {}, .most_per_h = per_h}; }

/// 18 degrees by night, 24 by day; an hour of ramp at dawn, three at dusk by the rate.
const DayProgram glasshouse{{{at(6), 24.0, over(minutes{60})}, {at(20), 18.0, at_most(2.0)}}, {}};

TEST(DayProgram, RampsAndThenStays) {
  const auto day = 2027y / 1 / 15; // an hour ahead of UTC
  const auto before = set_point_at(glasshouse, civil, utc(day, 4, 59));
  EXPECT_EQ(before.value, 18.0);
  EXPECT_FALSE(before.ramping());
  const auto within = set_point_at(glasshouse, civil, utc(day, 5, 15));
  EXPECT_DOUBLE_EQ(within.value, 19.5);
  EXPECT_DOUBLE_EQ(within.rate_per_h, 6.0);
  EXPECT_TRUE(within.ramping());
  EXPECT_EQ(within.ramp_left, minutes{45});
  const auto behind = set_point_at(glasshouse, civil, utc(day, 6, 0));
  EXPECT_EQ(behind.value, 24.0);
  EXPECT_FALSE(behind.ramping());
  EXPECT_DOUBLE_EQ(set_point_at(glasshouse, civil, utc(day, 20)).value, 22.0);
  EXPECT_DOUBLE_EQ(set_point_at(glasshouse, civil, utc(day, 20)).rate_per_h, -2.0);
}

TEST(DayProgram, TellsWhatComesNextAndWhen) {
  const auto point = set_point_at(glasshouse, civil, utc(2027y / 1 / 15, 18));
  EXPECT_EQ(point.step, 0U);
  EXPECT_EQ(point.target, 24.0);
  ASSERT_TRUE(point.next);
  EXPECT_EQ(point.next->step, 1U);
  EXPECT_EQ(point.next->target, 18.0);
  EXPECT_EQ(point.next->in, hours{1});
  const auto night = set_point_at(glasshouse, civil, utc(2027y / 1 / 15, 22, 30)); // 23:30
  EXPECT_EQ(night.step, 1U);
  EXPECT_EQ(night.next->step, 0U);
  EXPECT_EQ(night.next->in, hours{6} + minutes{30});
}

TEST(DayProgram, BeginsAStepInItsVeryMillisecond) {
  const DayProgram jump{{{at(6), 24.0, {}}, {at(20), 18.0, {}}}, {}};
  const auto six = utc(2027y / 1 / 15, 5);
  EXPECT_EQ(set_point_at(jump, civil, six - milliseconds{1}).value, 18.0);
  EXPECT_EQ(set_point_at(jump, civil, six).value, 24.0);
}

TEST(DayProgram, RampsAcrossMidnight) {
  const DayProgram late{{{at(8), 24.0, {}}, {at(23), 18.0, over(hours{3})}}, {}};
  EXPECT_DOUBLE_EQ(set_point_at(late, civil, utc(2027y / 1 / 15, 22)).value, 24.0); // 23:00
  EXPECT_DOUBLE_EQ(set_point_at(late, civil, utc(2027y / 1 / 15, 23)).value, 22.0); // midnight
  EXPECT_DOUBLE_EQ(set_point_at(late, civil, utc(2027y / 1 / 16, 0)).value, 20.0);
  EXPECT_EQ(set_point_at(late, civil, utc(2027y / 1 / 16, 0)).step, 1U);
  EXPECT_DOUBLE_EQ(set_point_at(late, civil, utc(2027y / 1 / 16, 1)).value, 18.0);
}

TEST(DayProgram, WithOneStepStandsStill) {
  const DayProgram constant{{{at(6), 21.0, over(minutes{60})}}, {}};
  for (int h = 0; h < 24; ++h) EXPECT_EQ(set_point_at(constant, civil, utc(2027y / 1 / 15, h)).value, 21.0);
}

TEST(DayProgram, TakesNoNoticeOfTheLeapDay) {
  for (const auto day : {2028y / 2 / 28, 2028y / 2 / 29, 2028y / 3 / 1})
    EXPECT_DOUBLE_EQ(set_point_at(glasshouse, civil, utc(day, 5, 15)).value, 19.5);
}

// 02:00 to 03:00 is missing: what is written for 02:30 begins when the clocks jump over it, at 01:00 UTC.
TEST(DayProgram, BeginsAStepOfTheMissingHourWhenTheClocksJumpOverIt) {
  const DayProgram early{{{at(2, 30), 24.0, over(minutes{60})}, {at(20), 18.0, {}}}, {}};
  EXPECT_EQ(set_point_at(early, civil, utc(spring_day, 0, 59)).value, 18.0);
  EXPECT_EQ(set_point_at(early, civil, utc(spring_day, 0, 59)).next->in, minutes{1});
  EXPECT_DOUBLE_EQ(set_point_at(early, civil, utc(spring_day, 1, 30)).value, 21.0);
  EXPECT_EQ(set_point_at(early, civil, utc(spring_day, 2, 0)).value, 24.0);
}

// Both steps begin in the same moment then, so the one listed later holds.
TEST(DayProgram, LetsTheLaterOfTwoStepsOfTheMissingHourHold) {
  const DayProgram early{{{at(2, 10), 30.0, {}}, {at(2, 40), 24.0, {}}, {at(20), 18.0, {}}}, {}};
  EXPECT_EQ(set_point_at(early, civil, utc(spring_day, 1, 0)).value, 24.0);
  EXPECT_EQ(set_point_at(early, civil, utc(2027y / 3 / 27, 1, 20)).value, 30.0); // on any other day
}

// 02:00 to 03:00 comes twice, from 00:00 and from 01:00 UTC.
TEST(DayProgram, BeginsAStepOfTheDoubledHourAtItsFirstPassingOnly) {
  const DayProgram early{{{at(2, 30), 24.0, over(minutes{60})}, {at(20), 18.0, {}}}, {}};
  EXPECT_EQ(set_point_at(early, civil, utc(autumn_day, 0, 29)).value, 18.0);
  EXPECT_DOUBLE_EQ(set_point_at(early, civil, utc(autumn_day, 1, 0)).value, 21.0); // 02:00 again
  EXPECT_EQ(set_point_at(early, civil, utc(autumn_day, 1, 30)).value, 24.0);       // 02:30 again
  EXPECT_EQ(set_point_at(early, civil, utc(autumn_day, 1, 31)).value, 24.0);
}

TEST(DayProgram, RampsByElapsedTimeWhileTheClocksChange) {
  const DayProgram night{{{at(1), 24.0, over(minutes{120})}, {at(20), 18.0, {}}}, {}};
  for (const auto day : {spring_day, autumn_day}) {
    const auto begin = day == spring_day ? utc(day, 0) : utc(day, -1);
    EXPECT_DOUBLE_EQ(set_point_at(night, civil, begin + hours{1}).value, 21.0);
    EXPECT_DOUBLE_EQ(set_point_at(night, civil, begin + hours{1}).rate_per_h, 3.0);
    EXPECT_EQ(set_point_at(night, civil, begin + hours{2}).value, 24.0);
  }
}

TEST(DayProgram, CountsTheWholeTimeToWhatComesNextWhenTheClocksChange) {
  EXPECT_EQ(set_point_at(glasshouse, civil, utc(spring_day, 0)).next->in, hours{4}); // 01:00 to 06:00
  EXPECT_EQ(set_point_at(glasshouse, civil, utc(autumn_day, -1)).next->in, hours{6});
}

TEST(DayProgram, IsNeverFasterThanItsGreatestRate) {
  const DayProgram slow{{{at(6), 24.0, {}}, {at(20), 18.0, over(minutes{60})}}, 3.0};
  EXPECT_DOUBLE_EQ(set_point_at(slow, civil, utc(2027y / 1 / 15, 6)).value, 21.0);
  EXPECT_EQ(set_point_at(slow, civil, utc(2027y / 1 / 15, 7)).value, 24.0);
  EXPECT_DOUBLE_EQ(set_point_at(slow, civil, utc(2027y / 1 / 15, 20)).value, 21.0);
}

TEST(DayProgram, BeginsAStepWhereTheOneBeforeHasComeTo) {
  const DayProgram hasty{{{at(6), 24.0, over(minutes{120})}, {at(7), 20.0, over(minutes{60})}, {at(20), 18.0, {}}}, {}};
  EXPECT_DOUBLE_EQ(set_point_at(hasty, civil, utc(2027y / 1 / 15, 6)).value, 21.0);
  EXPECT_DOUBLE_EQ(set_point_at(hasty, civil, utc(2027y / 1 / 15, 6, 30)).value, 20.5);
}

// Berlin, 15 January 2027: sunrise 08:08, sunset 16:26 (as sun_on has it; its tests say how well).
TEST(DayProgram, FollowsTheSun) {
  const DayProgram light{{{sunrise(minutes{-30}), 24.0, over(minutes{30})}, {sunset(), 18.0, {}}}, {}};
  const auto day = 2027y / 1 / 15;
  const auto sun = sun_on(berlin, day);
  const Locality there{central_europe, berlin};
  EXPECT_EQ(set_point_at(light, there, sun.sunrise - minutes{30} - milliseconds{1}).value, 18.0);
  EXPECT_DOUBLE_EQ(set_point_at(light, there, sun.sunrise - minutes{15}).value, 21.0);
  EXPECT_EQ(set_point_at(light, there, sun.sunrise).value, 24.0);
  EXPECT_EQ(set_point_at(light, there, sun.sunset - milliseconds{1}).value, 24.0);
  EXPECT_EQ(set_point_at(light, there, sun.sunset).value, 18.0);
}

// What is written for 08:00 holds at 08:00, in winter too, when the sun rises after it.
TEST(DayProgram, LeavesAStepOutThatALaterOneHasOvertaken) {
  const DayProgram dawn{{{sunrise(), 21.0, {}}, {at(8), 24.0, {}}, {at(20), 18.0, {}}}, {}};
  const Locality there{central_europe, berlin};
  const auto winter = 2027y / 1 / 5; // sunrise at 08:15
  ASSERT_GT(sun_on(berlin, winter).sunrise, utc(winter, 7));
  EXPECT_EQ(set_point_at(dawn, there, utc(winter, 6, 59)).value, 18.0);
  EXPECT_EQ(set_point_at(dawn, there, utc(winter, 6, 59)).next->step, 1U);
  for (const int minute : {0, 10, 20, 59}) EXPECT_EQ(set_point_at(dawn, there, utc(winter, 7, minute)).value, 24.0);
  const auto summer = 2027y / 7 / 5; // at 04:50
  EXPECT_EQ(set_point_at(dawn, there, utc(summer, 4)).value, 21.0);
  EXPECT_EQ(set_point_at(dawn, there, utc(summer, 6)).value, 24.0);
}

TEST(DayProgram, StaysAtNightInPolarNightAndAtDayInPolarDay) {
  const DayProgram light{{{sunrise(), 24.0, over(minutes{60})}, {sunset(), 18.0, over(minutes{60})}}, {}};
  const Locality there{central_europe, far_north};
  ASSERT_EQ(sun_on(far_north, 2027y / 12 / 21).daylight, Daylight::polar_night);
  ASSERT_EQ(sun_on(far_north, 2027y / 6 / 21).daylight, Daylight::polar_day);
  for (int minute = 0; minute < 48 * 60; minute += 5) {
    ASSERT_EQ(set_point_at(light, there, utc(2027y / 12 / 21, 0, minute)).value, 18.0) << minute;
    ASSERT_EQ(set_point_at(light, there, utc(2027y / 6 / 21, 0, minute)).value, 24.0) << minute;
  }
  const local_days date{2027y / 6 / 21};
  EXPECT_EQ(beginnings_on(light, there, date, date).size(), 1U); // the sunset is overtaken by the next day's sunrise
  const auto next = set_point_at(light, there, utc(2027y / 6 / 21, 12)).next;
  EXPECT_EQ(next->target, 24.0);
}

// The date line is bent here: at UTC+14 and 157 W the clocks are a day ahead of the sun's own date.
TEST(DayProgram, TakesTheSunOfTheLocalDate) {
  constexpr Place island{1.87, -157.4};
  const Locality there{[](WallTime) { return hours{14}; }, island};
  const DayProgram light{{{sunrise(), 24.0, {}}, {sunset(), 18.0, {}}}, {}};
  const local_days date{2027y / 3 / 10};
  const auto begins = beginnings_on(light, there, date, date);
  ASSERT_EQ(begins.size(), 2U);
  EXPECT_EQ(floor<days>(local_time(there.offset_at, begins[0].at)), date);
  EXPECT_EQ(floor<days>(local_time(there.offset_at, begins[1].at)), date);
}

TEST(DayProgram, HasNoProblemsWhenItIsSound) {
  EXPECT_TRUE(problems_of(glasshouse, civil).empty());
  const DayProgram light{{{sunrise(), 24.0, over(minutes{60})}, {sunset(), 18.0, over(minutes{60})}}, {}};
  EXPECT_TRUE(problems_of(light, {central_europe, berlin}).empty());
  EXPECT_TRUE(problems_of(light, {central_europe, far_north}).empty());
}

TEST(DayProgram, IsToldWhatIsWrongWithIt) {
  const auto only = [](const DayProgram& program) {
    const auto problems = problems_of(program, civil);
    return problems.size() == 1 ? problems.front() : std::to_string(problems.size()) + " problems";
  };
  EXPECT_EQ(only({}), "there are no steps; write at least one");
  EXPECT_EQ(only({{{at(8), 24.0, {}}, {at(6, 5), 18.0, {}}}, {}}),
            "step 2 begins at 06:05, not after step 1 at 08:00; list steps in the order of the day");
  EXPECT_EQ(only({{{at(24), 24.0, {}}}, {}}), "step 1: the time of day is outside 00:00 to 23:59; write one within");
  EXPECT_EQ(only({{{sunrise(), 24.0, {}}}, {}}),
            "step 1: sunrise and sunset need the latitude and longitude of the site; "
            "state them, or write a time of day");
  EXPECT_EQ(only({{{at(8), 24.0, at_most(0.0)}}, {}}), "step 1: the rate of the ramp must be above zero");
  EXPECT_EQ(only({{{at(8), std::nan(""), {}}}, {}}), "step 1: the target is not a number");
  EXPECT_EQ(only({{{at(8), 24.0, {}}}, -1.0}), "the greatest rate must be above zero");
  EXPECT_EQ(
      only({{{at(8), 30.0, at_most(1.0)}, {at(20), 10.0, at_most(1.0)}}, {}}),
      "no ramp of the day comes to its end (month 1, day 2): there is too little time before the next step; write "
      "faster ramps or fewer steps");
}

TEST(DayProgram, IsToldOfAStepThatIsNeverInForce) {
  const DayProgram turned{{{sunset(), 18.0, {}}, {sunrise(), 24.0, {}}}, {}};
  const auto problems = problems_of(turned, {central_europe, berlin});
  ASSERT_EQ(problems.size(), 1U);
  EXPECT_EQ(problems.front(),
            "step 1 (sunset) is overtaken by a later step on every day of the year; put it at its place "
            "in the order of the day, or leave it out");
}

} // namespace oxherd::control::day_program_test
