#include "control/loops/time_proportioned.hpp"

#include <algorithm>
#include <cmath>

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include "tests/control/loops/plants.hpp"

namespace oxherd::control::time_proportioned_test {

using std::chrono::minutes;
using std::chrono::seconds;

/// Calls it every second and keeps when it switched.
struct Trace {
  TimeProportioned rule;
  TimeProportionedState state{};
  Monotonic now{0};
  Monotonic on_for{0};
  std::vector<std::pair<Monotonic, bool>> switched{};

  void step(double duty, Monotonic interval = seconds{1}) {
    const bool was_on = state.on;
    state = next(rule, state, duty, now).state;
    if (state.on != was_on) switched.emplace_back(now, state.on);
    if (state.on) on_for += interval; // it stays so until the next call
    now += interval;
  }
  void until(Monotonic end, double duty) {
    while (now < end) step(duty);
  }
};
using Switched = std::vector<std::pair<Monotonic, bool>>;

TEST(TimeProportioned, GivesOnePulseAtTheBeginningOfEachCycle) {
  Trace run{{.cycle = seconds{100}}};
  run.until(seconds{200}, 0.3);
  EXPECT_EQ(run.switched,
            (Switched{{seconds{0}, true}, {seconds{30}, false}, {seconds{100}, true}, {seconds{130}, false}}));
}

TEST(TimeProportioned, ADutyOfZeroIsOffAndOfOneIsOnWithoutAGap) {
  Trace off{{.cycle = seconds{100}}};
  off.until(minutes{30}, 0.0);
  EXPECT_TRUE(off.switched.empty());
  Trace on{{.cycle = seconds{100}}};
  on.until(minutes{30}, 1.0);
  EXPECT_EQ(on.switched, (Switched{{seconds{0}, true}}));
}

TEST(TimeProportioned, ADutyOfOneHasNoGapEvenWhenTooMuchWasGivenBefore) {
  Trace run{{.cycle = seconds{100}}};
  run.until(seconds{50}, 0.9);
  run.until(seconds{100}, 0.0); // 45 s were asked for and 50 given
  run.until(seconds{500}, 1.0);
  EXPECT_EQ(run.switched, (Switched{{seconds{0}, true}, {seconds{50}, false}, {seconds{100}, true}}));
}

TEST(TimeProportioned, ADutyOfZeroBeginsNoPulseEvenWhenOneIsOwed) {
  Trace run{{.cycle = seconds{100}, .on_least = seconds{10}}};
  run.step(0.09, seconds{99});
  run.step(0.09, seconds{16}); // a late call: 10.35 s are owed by then
  run.step(0.0);
  EXPECT_GT(run.state.owed_s, 10.0);
  EXPECT_FALSE(run.state.on);
}

TEST(TimeProportioned, AFallingDutyCutsThePulseShort) {
  Trace run{{.cycle = seconds{100}}};
  run.until(seconds{20}, 0.8);
  run.until(seconds{100}, 0.0);
  EXPECT_EQ(run.switched, (Switched{{seconds{0}, true}, {seconds{20}, false}}));
}

TEST(TimeProportioned, AFallingDutyCutsNoPulseBelowItsLeastTime) {
  Trace run{{.cycle = seconds{100}, .on_least = seconds{40}}};
  run.until(seconds{20}, 0.8);
  run.until(seconds{100}, 0.0);
  EXPECT_EQ(run.switched, (Switched{{seconds{0}, true}, {seconds{40}, false}}));
}

TEST(TimeProportioned, ARisingDutyWaitsForTheNextCycle) {
  Trace run{{.cycle = seconds{100}}};
  run.until(seconds{10}, 0.3);
  run.until(seconds{150}, 0.9); // rises while the pulse runs: it is not longer for that
  EXPECT_EQ(run.switched, (Switched{{seconds{0}, true}, {seconds{30}, false}, {seconds{100}, true}}));
}

TEST(TimeProportioned, ADutyThatDipsDoesNotComeBackWithinTheCycle) {
  Trace run{{.cycle = seconds{100}}};
  run.until(seconds{10}, 0.8);
  run.until(seconds{11}, 0.0);
  run.until(seconds{100}, 0.8);
  EXPECT_EQ(run.switched, (Switched{{seconds{0}, true}, {seconds{10}, false}}));
}

TEST(TimeProportioned, AShortPulseIsLeftOutAndGivenWithALaterOne) {
  Trace run{{.cycle = seconds{100}, .on_least = seconds{25}}};
  run.until(seconds{400}, 0.1); // 10 s a cycle: 10, 20, then 30 are owed
  EXPECT_EQ(run.switched, (Switched{{seconds{200}, true}, {seconds{230}, false}}));
}

TEST(TimeProportioned, AShortGapIsLeftOutAndMadeUpForByALaterOne) {
  Trace run{{.cycle = seconds{100}, .off_least = seconds{25}}};
  run.until(seconds{400}, 0.9);
  EXPECT_EQ(run.switched, (Switched{{seconds{0}, true}, {seconds{270}, false}, {seconds{300}, true}}));
}

TEST(TimeProportioned, BeginsAnewAfterAPauseLongerThanACycle) {
  Trace run{{.cycle = seconds{100}}};
  run.until(seconds{50}, 1.0);
  run.now += minutes{30};
  run.step(0.5);
  EXPECT_TRUE(run.state.on);
  EXPECT_EQ(run.state.owed_s, 0.0);
}

TEST(TimeProportioned, RefusesTimesThatDoNotFitIntoTheCycle) {
  EXPECT_EQ(problem_of(TimeProportioned{seconds{100}, seconds{50}, seconds{50}}), "");
  EXPECT_NE(problem_of(TimeProportioned{seconds{100}, seconds{51}, seconds{50}}), "");
  EXPECT_NE(problem_of(TimeProportioned{seconds{0}, seconds{0}, seconds{0}}), "");
  EXPECT_NE(problem_of(TimeProportioned{seconds{100}, seconds{-1}, seconds{0}}), "");
}

TimeProportioned any_rule() {
  TimeProportioned rule{.cycle = seconds{*rc::gen::inRange(120, 601)}};
  rule.on_least = seconds{*rc::gen::inRange(0, 120)};
  rule.off_least = std::min<Monotonic>(seconds{*rc::gen::inRange(0, 300)}, rule.cycle - rule.on_least);
  return rule;
}

double any_duty() { return *rc::gen::inRange(0, 1001) / 1000.0; }

// Judged by what the test has counted itself. Calls come at random, up to `late` apart.
TEST(TimeProportioned, KeepsTheMeanDutyOverManyCyclesWhateverIsLeftOut) {
  EXPECT_TRUE(rc::check([] {
    Trace run{any_rule()};
    const double duty = any_duty();
    const auto late = seconds{*rc::gen::inRange(1, 10)};
    const auto intervals =
        *rc::gen::container<std::vector<int>>(20, rc::gen::inRange(1, static_cast<int>(late.count()) + 1));
    for (std::size_t i = 0; run.now < 50 * run.rule.cycle; ++i) {
      const auto before = run.state;
      const auto before_on_for = run.on_for;
      const auto before_now = run.now;
      run.step(duty, seconds{intervals[i % intervals.size()]});
      if (before.cycle_began == run.state.cycle_began) continue;
      const double asked_s = duty * alarms::seconds_of(before_now);
      const double given_s = alarms::seconds_of(before_on_for);
      RC_ASSERT(asked_s - given_s <= alarms::seconds_of(run.rule.on_least + late) + 1e-6);
      RC_ASSERT(given_s - asked_s <= alarms::seconds_of(run.rule.off_least + late) + 1e-6);
    }
    const double mean = alarms::seconds_of(run.on_for) / alarms::seconds_of(run.now);
    const auto whole =
        run.rule.on_least + run.rule.off_least + 2 * late + run.rule.cycle / 4; // inside a cycle: d (1 - d)
    RC_ASSERT(std::abs(mean - duty) <= whole / (50.0 * run.rule.cycle));
  }));
}

TEST(TimeProportioned, KeepsTheMeanOfDutiesThatChangeBetweenCycles) {
  EXPECT_TRUE(rc::check([] {
    Trace run{any_rule()};
    double duty = any_duty(), asked_s = 0.0;
    for (int cycles = 0; cycles < 50;) {
      auto tried = next(run.rule, run.state, duty, run.now).state; // does a cycle begin here?
      if (tried.cycle_began != run.state.cycle_began) {
        const double owed_s = asked_s - alarms::seconds_of(run.on_for);
        RC_ASSERT(owed_s <= alarms::seconds_of(run.rule.on_least) + 1.0 + 1e-6);
        RC_ASSERT(-owed_s <= alarms::seconds_of(run.rule.off_least) + 1.0 + 1e-6);
        duty = any_duty();
        ++cycles;
      }
      run.step(duty);
      asked_s += duty;
    }
  }));
}

TEST(TimeProportioned, NeverBreaksItsLeastTimesWhateverIsAsked) {
  EXPECT_TRUE(rc::check([] {
    Trace run{any_rule()};
    double duty = any_duty();
    for (int i = 0; i < 5000; ++i) {
      if (i % 40 == 0 && *rc::gen::inRange(0, 3) == 0) duty = *rc::gen::element(0.0, 1.0, any_duty());
      run.step(duty);
    }
    for (std::size_t i = 1; i < run.switched.size(); ++i) {
      const auto lasted = run.switched[i].first - run.switched[i - 1].first;
      RC_ASSERT(lasted >= (run.switched[i].second ? run.rule.off_least : run.rule.on_least));
    }
  }));
}

TEST(TimeProportioned, NeverGivesTwoPulsesInACycle) {
  EXPECT_TRUE(rc::check([] {
    Trace run{any_rule()};
    double duty = any_duty();
    for (int i = 0; i < 5000; ++i) {
      if (i % 40 == 0 && *rc::gen::inRange(0, 3) == 0) duty = any_duty();
      run.step(duty);
    }
    Monotonic last{-1'000'000};
    for (const auto& [when, on] : run.switched) {
      if (!on) continue;
      RC_ASSERT(when - last >= run.rule.cycle);
      last = when;
    }
  }));
}

// What was given ahead of a demand that falls is owed back; never more than a cycle of it.
TEST(TimeProportioned, NeverOwesMoreThanACycleWhateverIsAsked) {
  EXPECT_TRUE(rc::check([] {
    Trace run{any_rule()};
    double duty = any_duty();
    for (int i = 0; i < 5000; ++i) {
      if (i % 40 == 0 && *rc::gen::inRange(0, 3) == 0) duty = *rc::gen::element(0.0, 1.0, any_duty());
      run.step(duty);
      RC_ASSERT(std::abs(run.state.owed_s) <= alarms::seconds_of(run.rule.cycle + seconds{1}));
    }
  }));
}

} // namespace oxherd::control::time_proportioned_test
