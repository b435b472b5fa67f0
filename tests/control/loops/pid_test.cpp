#include "control/loops/pid.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>
#include <rapidcheck.h>

#include "tests/control/loops/plants.hpp"

// The controller by itself, with values that the test makes.
namespace oxherd::control::pid_test {

using plants::at_s;
using std::chrono::seconds;

constexpr double nan = std::numeric_limits<double>::quiet_NaN();

/// Limits so wide that they are never met.
Pid wide(Pid rule) {
  rule.output_low = -1e9;
  rule.output_high = 1e9;
  return rule;
}

/// Sends one value after the other and keeps the state.
struct Loop {
  Pid rule;
  PidState state{};
  PidStep step(const PidInput& in, Monotonic now) {
    auto result = next(rule, state, in, now);
    state = result.state;
    return result;
  }
  double output(double value, double set_point, double time_s) {
    return step({.value = value, .set_point = set_point}, at_s(time_s)).output.value();
  }
};

TEST(Pid, ProportionalActionIsGainTimesDeviationAndBias) {
  Loop loop{wide({.gain = 3.0, .bias = 0.5})};
  EXPECT_DOUBLE_EQ(loop.output(18.0, 20.0, 0.0), 3.0 * 2.0 + 0.5);
  loop.rule.effect = Effect::lowers;
  EXPECT_DOUBLE_EQ(loop.output(18.0, 20.0, 1.0), -3.0 * 2.0 + 0.5);
}

TEST(Pid, TheSetPointWeightActsOnTheProportionalPartOnly) {
  Loop loop{wide({.gain = 3.0, .integral_time_s = 100.0, .set_point_weight = 0.2})};
  EXPECT_DOUBLE_EQ(loop.output(18.0, 20.0, 0.0), 3.0 * (0.2 * 20.0 - 18.0));
  const auto step = loop.step({.value = 18.0, .set_point = 20.0}, at_s(10.0));
  EXPECT_DOUBLE_EQ(step.parts.integral, 3.0 / 100.0 * 10.0 * 2.0);
}

TEST(Pid, ASetPointCountsFromTheMomentItStandsAndNotBefore) {
  Loop loop{wide({.gain = 1.0, .integral_time_s = 100.0})};
  (void)loop.output(20.0, 20.0, 0.0);
  EXPECT_DOUBLE_EQ(loop.step({.value = 20.0, .set_point = 25.0}, at_s(10.0)).parts.integral, 0.0);
  EXPECT_DOUBLE_EQ(loop.step({.value = 20.0, .set_point = 25.0}, at_s(20.0)).parts.integral, 0.5);
}

// The value rises by 0.01 a second from 0, the set-point stands at 0. Each part has a closed form at every moment, so
// that the intervals between samples must not matter at all.
TEST(Pid, IsExactForAStraightValueAtAnyIntervals) {
  EXPECT_TRUE(rc::check([] {
    const double gain = *rc::gen::inRange(1, 100) / 10.0, integral_time_s = *rc::gen::inRange(10, 1000),
                 derivative_time_s = *rc::gen::inRange(1, 100), filter = *rc::gen::inRange(2, 20);
    const auto effect = *rc::gen::element(Effect::raises, Effect::lowers);
    Loop loop{wide({.effect = effect,
                    .gain = gain,
                    .integral_time_s = integral_time_s,
                    .derivative_time_s = derivative_time_s,
                    .derivative_filter = filter})};
    const double k = effect == Effect::raises ? gain : -gain;
    constexpr double slope = 0.01;
    double time_s = 0.0;
    for (int i = 0; i < 50; ++i) {
      const auto parts = loop.step({.value = slope * time_s, .set_point = 0.0}, at_s(time_s)).parts;
      const double filter_time_s = derivative_time_s / filter;
      const double integral = -k / integral_time_s * slope * time_s * time_s / 2.0;
      const double derivative = -k * derivative_time_s * slope * (1.0 - std::exp(-time_s / filter_time_s));
      RC_ASSERT(std::abs(parts.proportional + k * slope * time_s) <= 1e-9);
      RC_ASSERT(std::abs(parts.integral - integral) <= 1e-9 * (1.0 + std::abs(integral)));
      RC_ASSERT(std::abs(parts.derivative - derivative) <= 1e-9);
      time_s += *rc::gen::inRange(0, 60'000) / 1000.0;
    }
  }));
}

TEST(Pid, AStepOfTheSetPointGivesNoDerivativeKickByDefault) {
  Loop loop{wide({.gain = 2.0, .integral_time_s = 100.0, .derivative_time_s = 10.0})};
  (void)loop.output(20.0, 20.0, 0.0);
  EXPECT_EQ(loop.step({.value = 20.0, .set_point = 25.0}, at_s(1.0)).parts.derivative, 0.0);
}

// The step response of K N c s / (s + N / Td) is K N c exp(-N t / Td).
TEST(Pid, AWeightedDerivativeOfTheSetPointKicksAndDecaysWithTheFilter) {
  Loop loop{wide({.gain = 2.0, .derivative_time_s = 10.0, .derivative_filter = 5.0, .derivative_weight = 0.5})};
  (void)loop.output(20.0, 20.0, 0.0);
  EXPECT_DOUBLE_EQ(loop.step({.value = 20.0, .set_point = 21.0}, at_s(1.0)).parts.derivative, 2.0 * 5.0 * 0.5);
  EXPECT_DOUBLE_EQ(loop.step({.value = 20.0, .set_point = 21.0}, at_s(4.0)).parts.derivative,
                   2.0 * 5.0 * 0.5 * std::exp(-5.0 * 3.0 / 10.0));
}

TEST(Pid, KeepsTheOutputInsideItsLimitsAndTellsWhatIsCut) {
  Loop loop{{.gain = 3.0}};
  const auto high = loop.step({.value = 18.0, .set_point = 20.0}, at_s(0.0));
  EXPECT_EQ(high.output, 1.0);
  EXPECT_DOUBLE_EQ(high.parts.cut, 1.0 - 6.0);
  EXPECT_EQ(loop.output(22.0, 20.0, 1.0), 0.0);
}

TEST(Pid, AddsTheFeedForwardBeforeTheLimits) {
  Loop loop{{.gain = 0.1}};
  const auto inside = loop.step({.value = 18.0, .set_point = 20.0, .feed_forward = 0.3}, at_s(0.0));
  EXPECT_DOUBLE_EQ(inside.output.value(), 0.5);
  const auto beyond = loop.step({.value = 18.0, .set_point = 20.0, .feed_forward = 3.0}, at_s(1.0));
  EXPECT_EQ(beyond.output, 1.0);
  EXPECT_DOUBLE_EQ(beyond.parts.cut, 1.0 - 3.2);
}

TEST(Pid, MovesTheOutputNoFasterThanItsRate) {
  Loop loop{{.gain = 1.0, .rate_most_per_s = 0.01}};
  EXPECT_EQ(loop.output(20.0, 20.0, 0.0), 0.0);
  EXPECT_DOUBLE_EQ(loop.output(10.0, 20.0, 10.0), 0.1);
  EXPECT_DOUBLE_EQ(loop.output(10.0, 20.0, 10.0), 0.1); // no time has passed
  EXPECT_DOUBLE_EQ(loop.output(10.0, 20.0, 35.0), 0.35);
  EXPECT_DOUBLE_EQ(loop.output(30.0, 20.0, 40.0), 0.30);
}

// Error +1 for 1000 s, then -1; K = 1, Ti = Tt = 100 s, output 0 to 1. While the upper limit holds the output,
// dI/dt = 1/Ti + (1 - (1 + I)) / Tt, so that I = 1 - exp(-t / Ti). Without tracking I = t / Ti = 10 at the end, and the
// output leaves the limit only when -1 + 10 - t / Ti < 1, which is after 800 s.
TEST(Pid, AntiWindupLetsTheOutputLeaveItsLimitAtOnceWhereWithoutItTakesThirteenMinutes) {
  constexpr double interval_s = 0.1;
  const auto leaves_limit_after_s = [](Loop& loop) {
    for (int i = 0; i <= 10'000; ++i) (void)loop.output(19.0, 20.0, i * interval_s);
    for (int i = 1; i <= 20'000; ++i)
      if (loop.output(21.0, 20.0, 1000.0 + i * interval_s) < 1.0) return i * interval_s;
    return std::numeric_limits<double>::infinity();
  };
  Loop tracking{{.gain = 1.0, .integral_time_s = 100.0}};
  EXPECT_LE(leaves_limit_after_s(tracking), 2 * interval_s);
  Loop winding{{.gain = 1.0, .integral_time_s = 100.0, .tracking_time_s = INFINITY}};
  EXPECT_NEAR(leaves_limit_after_s(winding), 800.0, 2 * interval_s);
}

// The tracking uses what was cut at the beginning of each interval: its error is of the order of interval / Ti.
TEST(Pid, TheIntegralAtALimitFollowsTheClosedFormOfItsTracking) {
  const auto worst_error = [](double interval_s) {
    Loop loop{{.gain = 1.0, .integral_time_s = 100.0}};
    double worst = 0.0;
    for (int i = 0; i * interval_s <= 500.0; ++i) {
      const auto step = loop.step({.value = 19.0, .set_point = 20.0}, at_s(i * interval_s));
      worst = std::max(worst, std::abs(step.parts.integral - (1.0 - std::exp(-i * interval_s / 100.0))));
    }
    return worst;
  };
  EXPECT_LE(worst_error(1.0), 1.0 / 100.0);
  EXPECT_NEAR(worst_error(1.0) / worst_error(0.5), 2.0, 0.1); // first order in the interval
}

TEST(Pid, ALongIntervalDoesNotDriveTheIntegralBackTooFar) {
  Loop loop{{.gain = 1.0, .integral_time_s = 1.0, .tracking_time_s = 0.1, .sample_most = seconds{3600}}};
  (void)loop.output(15.0, 20.0, 0.0);
  EXPECT_DOUBLE_EQ(loop.state.cut, -4.0);
  (void)loop.output(20.0, 20.0, 60.0);
  // 60 s of an error that runs from 5 to 0 is 150, and all of what was cut, not 600 times that, is taken back.
  EXPECT_NEAR(loop.state.integral, 150.0 - 4.0, 1e-9);
}

TEST(Pid, GoesFromByHandToAutomaticWithoutABump) {
  Loop loop{{.gain = 0.7, .integral_time_s = 100.0, .derivative_time_s = 10.0}};
  (void)loop.output(19.9, 20.0, 0.0);
  EXPECT_EQ(loop.step({.value = 19.0, .set_point = 20.0, .by_hand = 0.42}, at_s(1.0)).output, 0.42);
  EXPECT_EQ(loop.step({.value = 18.0, .set_point = 20.0, .by_hand = 0.37}, at_s(50.0)).output, 0.37);
  EXPECT_DOUBLE_EQ(loop.output(17.0, 21.0, 51.0), 0.37); // whatever value and set-point have become
  EXPECT_DOUBLE_EQ(loop.output(17.0, 21.0, 52.0), 0.37 + 0.7 / 100.0 * 4.0 * 1.0); // and then it integrates
}

TEST(Pid, GoesFromAutomaticToByHandWithinItsLimits) {
  Loop loop{{.gain = 0.1, .integral_time_s = 100.0, .rate_most_per_s = 0.01}};
  const double before = loop.output(18.0, 20.0, 0.0);
  EXPECT_DOUBLE_EQ(loop.step({.by_hand = 5.0}, at_s(10.0)).output.value(),
                   before + 0.1); // the rate holds for hands too
  EXPECT_EQ(loop.step({.by_hand = 5.0}, at_s(1000.0)).output, 1.0);
}

TEST(Pid, ByHandNeedsNoValue) {
  Loop loop{{.gain = 0.1, .integral_time_s = 100.0}};
  EXPECT_EQ(loop.step({.value = nan, .set_point = 20.0, .by_hand = 0.25}, at_s(0.0)).output, 0.25);
  EXPECT_EQ(loop.step({.value = 19.0, .set_point = 20.0, .by_hand = nan}, at_s(1.0)).output, std::nullopt);
  EXPECT_DOUBLE_EQ(loop.output(19.0, 20.0, 2.0), 0.25);
}

TEST(Pid, GoesOnFromAnOutputThatIsThereAlready) {
  Loop loop{{.gain = 0.1, .integral_time_s = 100.0}, going_on_from(0.66, at_s(0.0))};
  EXPECT_DOUBLE_EQ(loop.output(15.0, 20.0, 1.0), 0.66);
}

TEST(Pid, WithoutIntegralActionByHandLeavesNothingBehind) {
  Loop loop{wide({.gain = 2.0, .bias = 0.5})};
  (void)loop.step({.by_hand = 7.0}, at_s(0.0));
  EXPECT_DOUBLE_EQ(loop.output(19.0, 20.0, 1.0), 2.5);
}

TEST(Pid, ChangesItsParametersWithoutABump) {
  EXPECT_TRUE(rc::check([] {
    const auto any_rule = [] {
      return wide({.effect = *rc::gen::element(Effect::raises, Effect::lowers),
                   .gain = *rc::gen::inRange(1, 100) / 10.0,
                   .integral_time_s = *rc::gen::inRange(10, 1000),
                   .derivative_time_s = *rc::gen::inRange(0, 3) * 10.0,
                   .derivative_filter = *rc::gen::inRange(2, 20) * 1.0,
                   .set_point_weight = *rc::gen::inRange(0, 11) / 10.0});
    };
    Loop loop{any_rule()};
    double time_s = 0.0, value = 20.0, output = 0.0;
    for (int i = 0; i < 20; ++i) {
      value = *rc::gen::inRange(150, 250) / 10.0;
      output = loop.output(value, 20.0, time_s += 1.0);
    }
    loop.rule = any_rule();
    // The same moment and value: only the parameters differ.
    RC_ASSERT(std::abs(loop.output(value, 20.0, time_s) - output) <= 1e-9);
  }));
}

TEST(Pid, HoldsTheIntegralWhileTheValueIsUncertainAtEitherEnd) {
  Loop loop{wide({.gain = 1.0, .integral_time_s = 100.0})};
  const auto integral_at = [&](double time_s, bool uncertain) {
    return loop.step({.value = 19.0, .set_point = 20.0, .uncertain = uncertain}, at_s(time_s)).parts.integral;
  };
  (void)integral_at(0.0, false);
  EXPECT_DOUBLE_EQ(integral_at(1.0, false), 0.01);
  EXPECT_DOUBLE_EQ(integral_at(2.0, true), 0.01);
  EXPECT_DOUBLE_EQ(integral_at(3.0, true), 0.01);
  EXPECT_DOUBLE_EQ(integral_at(4.0, false), 0.01); // the interval began uncertain
  EXPECT_DOUBLE_EQ(integral_at(5.0, false), 0.02);
}

TEST(Pid, HoldsTheIntegralAtALimitTooWhileTheValueIsUncertain) {
  Loop loop{{.gain = 1.0, .integral_time_s = 100.0}};
  (void)loop.output(10.0, 20.0, 0.0);
  const auto step = loop.step({.value = 10.0, .set_point = 20.0, .uncertain = true}, at_s(10.0));
  EXPECT_EQ(step.parts.integral, 0.0);
}

TEST(Pid, RefusesWhatIsNoFiniteNumberAndKeepsItsState) {
  Loop loop{{.gain = 0.1, .integral_time_s = 100.0, .derivative_time_s = 10.0}};
  (void)loop.output(19.0, 20.0, 0.0);
  (void)loop.output(19.1, 20.0, 1.0);
  const auto before = loop.state;
  const double huge = std::numeric_limits<double>::max();
  for (const PidInput& in :
       {PidInput{.value = nan, .set_point = 20.0}, PidInput{.value = 19.0, .set_point = nan},
        PidInput{.value = 19.0, .set_point = 20.0, .feed_forward = nan}, PidInput{.value = INFINITY, .set_point = 20.0},
        PidInput{.value = huge, .set_point = -huge}}) {
    const auto step = loop.step(in, at_s(2.0));
    EXPECT_EQ(step.output, std::nullopt);
    EXPECT_EQ(step.state, before);
  }
  EXPECT_TRUE(loop.step({.value = 19.2, .set_point = 20.0}, at_s(3.0)).output.has_value());
}

TEST(Pid, DoesNotIntegrateOverALongGapNorDifferentiate) {
  Loop loop{wide({.gain = 1.0, .integral_time_s = 100.0, .derivative_time_s = 10.0, .sample_most = seconds{60}})};
  (void)loop.output(19.0, 20.0, 0.0);
  const auto within = loop.step({.value = 18.0, .set_point = 20.0}, at_s(60.0));
  EXPECT_DOUBLE_EQ(within.parts.integral, 0.9);
  EXPECT_LT(0.0, within.parts.derivative);
  const auto beyond = loop.step({.value = 15.0, .set_point = 20.0}, at_s(120.001));
  EXPECT_DOUBLE_EQ(beyond.parts.integral, 0.9);
  EXPECT_EQ(beyond.parts.derivative, 0.0);
}

TEST(Pid, RefusesParametersThatMakeNoController) {
  EXPECT_EQ(problem_of(Pid{}), "");
  EXPECT_EQ(problem_of(Pid{.tracking_time_s = INFINITY}), "");
  for (const Pid& bad : {Pid{.gain = 0.0}, Pid{.gain = -1.0}, Pid{.gain = nan}, Pid{.integral_time_s = 0.0},
                         Pid{.derivative_time_s = -1.0}, Pid{.derivative_time_s = nan}, Pid{.derivative_filter = 0.0},
                         Pid{.set_point_weight = 1.1}, Pid{.derivative_weight = -0.1}, Pid{.bias = nan},
                         Pid{.output_low = 1.0}, Pid{.output_high = INFINITY}, Pid{.rate_most_per_s = 0.0},
                         Pid{.tracking_time_s = 0.0}, Pid{.sample_most = Monotonic{0}}})
    EXPECT_NE(problem_of(bad), "");
}

// Whatever comes, an output is finite and inside its limits, and no step is faster than the rate.
TEST(Pid, NeverLeavesItsLimitsWhateverComes) {
  EXPECT_TRUE(rc::check([] {
    Loop loop{{.gain = 2.0,
               .integral_time_s = 50.0,
               .derivative_time_s = 5.0,
               .output_low = 0.2,
               .output_high = 0.9,
               .rate_most_per_s = 0.05}};
    std::optional<double> last;
    Monotonic now{0}, last_at{0};
    for (int i = 0; i < 200; ++i) {
      now += Monotonic{*rc::gen::inRange(0, 90'000)};
      PidInput in{.value = *rc::gen::element(nan, 0.0, 19.0, 20.0, 1e6, *rc::gen::inRange(0, 400) / 10.0),
                  .set_point = *rc::gen::inRange(0, 400) / 10.0,
                  .uncertain = *rc::gen::inRange(0, 5) == 0};
      if (*rc::gen::inRange(0, 10) == 0) in.by_hand = *rc::gen::element(nan, -1.0, 0.5, 2.0);
      const auto output = loop.step(in, now).output;
      if (!output) continue;
      RC_ASSERT(*output >= 0.2);
      RC_ASSERT(*output <= 0.9);
      if (last) RC_ASSERT(std::abs(*output - *last) <= 0.05 * alarms::seconds_of(now - last_at) + 1e-12);
      last = output;
      last_at = now;
    }
  }));
}

} // namespace oxherd::control::pid_test
