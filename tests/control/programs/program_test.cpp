#include "control/programs/program.hpp"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h> // before rapidcheck, whose header needs its names

#include <rapidcheck/gtest.h>

#include "tests/control/programs/zones.hpp"

namespace oxherd::control::program_test {

using namespace zones;

const Locality nowhere{utc_only, {}};

Program day_and_night(std::optional<double> most_per_h = {}) {
  return DayProgram{{{{Anchor::To::clock, hours{6}}, 24.0, {}}, {{Anchor::To::clock, hours{20}}, 18.0, {}}},
                    most_per_h};
}
/// From 20 to 30 in two hours, six hours there, 20 at once.
Program ramp_and_soak(std::optional<double> most_per_h = {}) {
  return ElapsedProgram{.steps = {{30.0, {.over = hours{2}, .most_per_h = {}}, hours{6}}, {20.0, {}, hours{1}}},
                        .most_per_h = most_per_h};
}

/// A program that is looked at now and then, as the daemon does; its day begins at midnight with its monotonic clock.
struct Bench {
  Program program;
  ProgramState state{};
  Monotonic now{0};
  std::optional<double> process_value = 20.0;

  ProgramOutput look(Monotonic later = Monotonic{0}) {
    now += later;
    auto out = next(program, state, nowhere, {now, utc(2027y / 1 / 15) + now, process_value});
    state = out.state;
    return out;
  }
};

TEST(Program, OfTheDayIsFollowedFromTheFirstLook) {
  Bench bench{day_and_night()};
  EXPECT_EQ(bench.look(hours{5}).set_point->value, 18.0);
  EXPECT_EQ(bench.look(hours{1}).set_point->value, 24.0);
  EXPECT_EQ(bench.look().phase, ProgramPhase::following);
}

TEST(Program, OfElapsedTimeWaitsForAPerson) {
  Bench bench{ramp_and_soak()};
  EXPECT_EQ(bench.look(hours{5}).phase, ProgramPhase::waiting);
  EXPECT_FALSE(bench.look().set_point);
  bench.state = started(bench.state, 20.0, bench.now);
  EXPECT_DOUBLE_EQ(bench.look(hours{1}).set_point->value, 25.0);
  EXPECT_TRUE(bench.look().set_point->ramping());
  EXPECT_EQ(bench.look(hours{8}).phase, ProgramPhase::finished);
  EXPECT_EQ(bench.look().set_point->value, 20.0);
}

TEST(Program, WithAGreatestRateBeginsAtTheProcessValue) {
  Bench bench{day_and_night(3.0)};
  bench.process_value = 12.0;
  bench.now = hours{10};
  EXPECT_EQ(bench.look().set_point->value, 12.0);
  EXPECT_EQ(bench.look().program_value, 24.0);
  bench.process_value = 5.0; // it matters at the beginning only
  const auto later = bench.look(hours{1});
  EXPECT_DOUBLE_EQ(later.set_point->value, 15.0);
  EXPECT_DOUBLE_EQ(later.set_point->rate_per_h, 3.0);
  EXPECT_DOUBLE_EQ(bench.look(hours{3}).set_point->value, 24.0);
  EXPECT_FALSE(bench.look().set_point->ramping());
}

TEST(Program, WithoutAProcessValueBeginsOnceThereIsOne) {
  Bench bench{day_and_night(3.0)};
  bench.now = hours{10};
  for (const std::optional<double> unknown : {std::optional<double>{}, std::optional{std::nan("")}}) {
    bench.process_value = unknown;
    EXPECT_EQ(bench.look(minutes{1}).set_point->value, 24.0);
    EXPECT_FALSE(bench.state.given);
  }
  bench.process_value = 12.0;
  EXPECT_EQ(bench.look(minutes{1}).set_point->value, 12.0);
}

TEST(Program, WithAGreatestRateGoesFromWhereItIsWhenItIsWrittenAnew) {
  Bench bench{day_and_night(3.0)};
  bench.now = hours{10};
  bench.process_value = 24.0;
  bench.look();
  std::get<DayProgram>(bench.program).steps[0].target = 27.0;
  EXPECT_DOUBLE_EQ(bench.look(minutes{20}).set_point->value, 25.0);
}

TEST(Hold, FreezesTheSetPointUntilAPersonResumes) {
  Bench bench{day_and_night()};
  bench.look(hours{5});
  bench.state = held(bench.state, 18.0, bench.now);
  const auto frozen = bench.look(hours{3});
  EXPECT_EQ(frozen.phase, ProgramPhase::held);
  EXPECT_EQ(frozen.set_point->value, 18.0);
  EXPECT_FALSE(frozen.set_point->ramping());
  EXPECT_EQ(bench.look(hours{24 * 30}).phase, ProgramPhase::held);
  bench.state = resumed(bench.state, bench.now);
  EXPECT_EQ(bench.look().set_point->value, 24.0); // by the clock, as if nothing had been
  EXPECT_EQ(bench.look().phase, ProgramPhase::following);
}

TEST(Hold, OfADayProgramJoinsAtTheGreatestRate) {
  Bench bench{day_and_night(3.0)};
  bench.process_value = 18.0;
  bench.look(hours{5});
  bench.state = held(bench.state, 18.0, bench.now);
  bench.look(hours{3});
  bench.state = resumed(bench.state, bench.now);
  EXPECT_EQ(bench.look().set_point->value, 18.0);
  EXPECT_DOUBLE_EQ(bench.look(hours{1}).set_point->value, 21.0);
}

TEST(Hold, OfAnElapsedProgramStopsItsTime) {
  Bench bench{ramp_and_soak()};
  bench.state = started(bench.state, 20.0, bench.now);
  const double value = bench.look(hours{1}).set_point->value;
  bench.state = held(bench.state, value, bench.now);
  EXPECT_DOUBLE_EQ(bench.look(hours{10}).set_point->value, 25.0);
  bench.state = resumed(bench.state, bench.now);
  EXPECT_DOUBLE_EQ(bench.look(minutes{30}).set_point->value, 27.5);
}

TEST(Hold, ForATimeEndsByItself) {
  Bench bench{ramp_and_soak()};
  bench.state = started(bench.state, 20.0, bench.now);
  bench.look(hours{1});
  bench.state = held(bench.state, 25.0, bench.now, hours{2});
  EXPECT_EQ(bench.look(hours{2} - milliseconds{1}).phase, ProgramPhase::held);
  EXPECT_EQ(bench.look(milliseconds{1}).phase, ProgramPhase::following);
  EXPECT_DOUBLE_EQ(bench.look(minutes{30}).set_point->value, 27.5);
}

TEST(Hold, ThatIsOverForSomeTimeWasOverThen) {
  Bench bench{ramp_and_soak()};
  bench.state = started(bench.state, 20.0, bench.now);
  bench.look(hours{1});
  bench.state = held(bench.state, 25.0, bench.now, hours{2});
  EXPECT_DOUBLE_EQ(bench.look(hours{2} + minutes{30}).set_point->value, 27.5); // not looked at in between
}

TEST(Program, ThatAPersonStopsStandsWhereItIs) {
  Bench bench{ramp_and_soak()};
  bench.state = started(bench.state, 20.0, bench.now);
  bench.look(hours{1});
  bench.state = stopped(bench.state, bench.now);
  const auto out = bench.look(hours{5});
  EXPECT_EQ(out.phase, ProgramPhase::stopped);
  EXPECT_DOUBLE_EQ(out.set_point->value, 25.0);
  EXPECT_FALSE(out.set_point->ramping());
  bench.state = resumed(bench.state, bench.now);
  EXPECT_DOUBLE_EQ(bench.look(minutes{30}).set_point->value, 27.5);
}

TEST(Outage, LetsADayProgramJoinFromWhatTheRoomHas) {
  Bench bench{day_and_night(3.0)};
  bench.process_value = 18.0;
  bench.look(hours{5});
  bench.now =
      hours{12}; // seven hours without power: the step at six o'clock was missed, and nothing of it is made up for
  bench.state = after_outage(bench.program, bench.state, hours{7}, 9.0, bench.now);
  bench.process_value = 9.0;
  EXPECT_EQ(bench.look().set_point->value, 9.0);
  EXPECT_EQ(bench.look().program_value, 24.0);
  EXPECT_DOUBLE_EQ(bench.look(hours{2}).set_point->value, 15.0);
}

TEST(Outage, LetsAnElapsedProgramContinueFromWhatTheRoomHas) {
  Bench bench{ramp_and_soak(5.0)};
  bench.state = started(bench.state, 20.0, bench.now);
  bench.look();
  EXPECT_DOUBLE_EQ(bench.look(hours{1}).set_point->value, 25.0);
  bench.now += minutes{50};
  bench.state = after_outage(bench.program, bench.state, minutes{50}, 22.0, bench.now);
  bench.process_value = 22.0;
  EXPECT_EQ(bench.look().set_point->value, 22.0);
  EXPECT_DOUBLE_EQ(bench.look().program_value, 25.0);
  EXPECT_EQ(bench.look(hours{3}).program_value, 30.0);
  EXPECT_EQ(bench.look().set_point->value, 30.0);
}

TEST(Outage, ThatWasTooLongIsShownUntilAPersonResumesOrStarts) {
  Bench bench{ramp_and_soak()};
  bench.state = started(bench.state, 20.0, bench.now);
  bench.look(hours{1});
  bench.now += hours{2};
  bench.state = after_outage(bench.program, bench.state, hours{2}, 20.0, bench.now);
  EXPECT_EQ(bench.look(hours{1}).phase, ProgramPhase::stopped_by_outage);
  EXPECT_DOUBLE_EQ(bench.look().set_point->value, 25.0);
  auto again = bench;
  bench.state = resumed(bench.state, bench.now);
  EXPECT_DOUBLE_EQ(bench.look(minutes{30}).set_point->value, 27.5);
  again.state = started(again.state, 21.0, again.now);
  EXPECT_DOUBLE_EQ(again.look().set_point->value, 21.0);
}

TEST(Outage, LeavesHeldWhatAPersonHolds) {
  Bench bench{ramp_and_soak()};
  bench.state = started(bench.state, 20.0, bench.now);
  bench.look(hours{1});
  bench.state = held(bench.state, 25.0, bench.now, hours{3});
  bench.now += minutes{30};
  bench.state = after_outage(bench.program, bench.state, minutes{30}, 20.0, bench.now);
  EXPECT_EQ(bench.look().phase, ProgramPhase::held);
  EXPECT_DOUBLE_EQ(bench.look(hours{3}).set_point->value, 27.5); // half an hour after the hold
}

TEST(Outage, ThatWasTooLongLetsNoHeldProgramGoOnByItself) {
  for (const auto hold : {hours{3}, hours{1}}) { // over after the outage, and during it
    Bench bench{ramp_and_soak()};
    bench.state = started(bench.state, 20.0, bench.now);
    bench.look(hours{1});
    bench.state = held(bench.state, 25.0, bench.now, hold);
    bench.now += hours{2};
    bench.state = after_outage(bench.program, bench.state, hours{2}, 20.0, bench.now);
    EXPECT_EQ(bench.look().phase, hold == hours{3} ? ProgramPhase::held : ProgramPhase::stopped_by_outage);
    EXPECT_EQ(bench.look(hours{2}).phase, ProgramPhase::stopped_by_outage);
    EXPECT_DOUBLE_EQ(bench.look().set_point->value, 25.0);
  }
}

TEST(Outage, CountsForAProgramThatJoinsFromTheEndOfItsHold) {
  Bench bench{ramp_and_soak()};
  std::get<ElapsedProgram>(bench.program).after_outage = AfterOutage::join;
  bench.state = started(bench.state, 20.0, bench.now);
  bench.look(hours{1});
  bench.state = held(bench.state, 25.0, bench.now, minutes{20});
  bench.now += minutes{50};
  bench.state = after_outage(bench.program, bench.state, minutes{50}, 20.0, bench.now);
  EXPECT_DOUBLE_EQ(bench.look().set_point->value, 27.5); // 30 minutes since
}

TEST(Outage, OfAProgramThatNobodyStartedStartsNothing) {
  Bench bench{ramp_and_soak()};
  bench.state = after_outage(bench.program, bench.state, minutes{5}, 20.0, bench.now);
  EXPECT_EQ(bench.look().phase, ProgramPhase::waiting);
}

// Whatever people do and whenever it is looked at.
RC_GTEST_PROP(Program, IsNeverFasterThanItsGreatestRateAndStaysWithinWhatItWasGiven, ()) {
  const double most = *rc::gen::inRange(10, 100) / 10.0;
  Bench bench{*rc::gen::arbitrary<bool>() ? day_and_night(most) : ramp_and_soak(most)};
  bench.process_value = *rc::gen::inRange(100, 400) / 10.0;
  const double low = std::min(18.0, *bench.process_value), high = std::max(30.0, *bench.process_value);
  bench.state = started(bench.state, *bench.process_value, bench.now);
  double before = bench.look().set_point->value;
  RC_ASSERT(before == *bench.process_value);
  for (int i = 0; i < 60; ++i) {
    const Monotonic later = minutes{*rc::gen::inRange(0, 180)};
    const auto out = bench.look(later);
    RC_ASSERT(std::abs(out.set_point->value - before) <= most * alarms::seconds_of(later) / 3600.0 * (1.0 + 2e-9));
    RC_ASSERT(out.set_point->value >= low && out.set_point->value <= high);
    RC_ASSERT(std::abs(out.set_point->rate_per_h) <= most * (1.0 + 1e-9));
    before = out.set_point->value;
    switch (*rc::gen::inRange(0, 8)) {
    case 0: bench.state = held(bench.state, before, bench.now); break;
    case 1: bench.state = held(bench.state, before, bench.now, minutes{*rc::gen::inRange(0, 300)}); break;
    case 2: bench.state = resumed(bench.state, bench.now); break;
    case 3: bench.state = stopped(bench.state, bench.now); break;
    case 4: bench.state = started(bench.state, before, bench.now); break;
    default: break;
    }
  }
}

// Without a greatest rate nothing depends on when it was looked at: one look at the end is as good as a hundred.
RC_GTEST_PROP(Program, DoesNotDependOnHowOftenItIsLookedAt, ()) {
  Bench often{*rc::gen::arbitrary<bool>() ? day_and_night() : ramp_and_soak()};
  often.state = started(often.state, 20.0, often.now);
  if (*rc::gen::arbitrary<bool>()) {
    const double value = often.look(minutes{*rc::gen::inRange(0, 600)}).set_point->value;
    often.state = held(often.state, value, often.now, minutes{*rc::gen::inRange(0, 300)});
  }
  Bench once = often;
  for (int i = *rc::gen::inRange(0, 100); i > 0; --i) often.look(minutes{*rc::gen::inRange(0, 30)});
  once.look(often.now - once.now);
  RC_ASSERT(once.look().set_point->value == often.look().set_point->value);
  RC_ASSERT(once.look().phase == often.look().phase);
  if (once.state.run) RC_ASSERT(once.state.run->done == often.state.run->done);
}

} // namespace oxherd::control::program_test
