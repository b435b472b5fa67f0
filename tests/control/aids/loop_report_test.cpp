#include "control/aids/loop_report.hpp"

#include <cmath>
#include <functional>
#include <numbers>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace oxherd::control::loop_report_test {

using namespace std::chrono_literals;
using std::numbers::pi;

using InTime = std::function<double(double)>;

/// A loop in automatic, sampled every so often; set-point and output stand where nothing else is said.
struct RecordedLoop {
  LoopReportSettings settings{};
  InTime value = [](double) { return 0.0; };
  InTime set_point = [](double) { return 0.0; };
  InTime output = [](double) { return 0.5; };
  double every_s = 1.0;

  [[nodiscard]] LoopReport report(double length_s) const {
    LoopRecord record{settings};
    for (long i = 0; static_cast<double>(i) * every_s <= length_s + 1e-9; ++i) {
      const double t_s = static_cast<double>(i) * every_s;
      record.add({Monotonic{std::llround(1000 * t_s)}, set_point(t_s), value(t_s), output(t_s), true});
    }
    return record.report();
  }
};

// An error of 2 sin(2 pi t / 600) about 0.5, over ten periods. Straight pieces of 1 s miss an area by (2 pi / 600)^2 /
// 12 of itself, which is 1e-5.
TEST(LoopReport, OfASineErrorHasItsClosedForms) {
  RecordedLoop run{.settings = {.band = 1.0}};
  run.value = [](double t_s) { return -2.0 * std::sin(2 * pi * t_s / 600); };
  const auto r = run.report(6000);
  EXPECT_NEAR(r.error_mean.value(), 0.0, 1e-9);
  EXPECT_NEAR(r.error_sd.value(), 2.0 / std::numbers::sqrt2, 2e-5);
  EXPECT_NEAR(r.absolute_error.value(), 2.0 * 2.0 / pi, 2e-5);
  EXPECT_NEAR(r.within_band_share.value(), 1.0 / 3.0, 1e-4); // |sin| <= 1/2 for a third of the time
  EXPECT_DOUBLE_EQ(r.judged_s, 6000);
  EXPECT_DOUBLE_EQ(r.automatic_share.value(), 1.0);

  run.set_point = [](double) { return 0.5; };
  const auto shifted = run.report(6000);
  EXPECT_NEAR(shifted.error_mean.value(), 0.5, 1e-9);
  EXPECT_NEAR(shifted.error_sd.value(), 2.0 / std::numbers::sqrt2, 2e-5);
}

// An error that decays as exp(-t / tau): integral of |e| is tau, that of t |e| is tau^2, once nothing is left.
TEST(LoopReport, OfADecayingErrorHasItsClosedForms) {
  RecordedLoop run;
  run.value = [](double t_s) { return -std::exp(-t_s / 300); };
  const auto r = run.report(7200);
  EXPECT_NEAR(r.absolute_error.value() * 7200, 300, 1e-3);
  EXPECT_NEAR(r.late_absolute_error.value() * 3600 * 7200, 300.0 * 300.0, 0.5);
}

TEST(LoopReport, CutsStraightPiecesWhereTheyCross) {
  RecordedLoop run{.settings = {.band = 1.0}};
  run.value = [](double t_s) { return t_s < 5 ? 3.0 : -1.0; }; // from an error of -3 to 1 in ten seconds
  run.every_s = 10;
  const auto r = run.report(10);
  EXPECT_NEAR(r.absolute_error.value(), (3.0 * 7.5 / 2 + 1.0 * 2.5 / 2) / 10, 1e-12);
  EXPECT_NEAR(r.late_absolute_error.value() * 3600, (3.0 * 7.5 * 7.5 / 6 + 2.5 * (7.5 / 2 + 2.5 / 3)) / 10, 1e-12);
  EXPECT_NEAR(r.within_band_share.value(), 0.5, 1e-12); // -1 to 1 of -3 to 1
}

/// A step of the set-point from 0 to 10 at 100 s; the way the value goes from there, 0 at first and 1 in the end.
RecordedLoop stepped(const InTime& way, double first = 0.0, double second = 10.0) {
  RecordedLoop run{.settings = {.step_least = 1.0}};
  run.set_point = [=](double t_s) { return t_s < 100 ? first : second; };
  run.value = [=](double t_s) { return first + (second - first) * (t_s < 100 ? 0.0 : way(t_s - 100)); };
  return run;
}

// First order: 10 to 90 % in tau ln 9 = 2.197 tau, within 2 % after tau ln 50 = 3.912 tau, no overshoot. Samples come
// every second, so that straight pieces are off by up to a hundredth of one.
TEST(LoopReport, OfAFirstOrderStepHasRiseAndSettlingTime) {
  const auto first_order = [](double t_s) { return 1.0 - std::exp(-t_s / 200); };
  for (const double second : {10.0, -10.0}) { // downwards as upwards
    const auto r = stepped(first_order, 0.0, second).report(2000);
    ASSERT_TRUE(r.step);
    EXPECT_NEAR(r.step->rise_s.value(), 200 * std::log(9.0), 0.02);
    EXPECT_NEAR(r.step->settling_s.value(), 200 * std::log(50.0), 0.02);
    EXPECT_EQ(r.step->overshoot, 0.0);
    EXPECT_DOUBLE_EQ(r.step->size, second);
    EXPECT_TRUE(r.step->under_way);
  }
  EXPECT_FALSE(stepped(first_order).report(100 + 780).step->settling_s);
  EXPECT_TRUE(stepped(first_order).report(100 + 785).step->settling_s);
}

// Second order: overshoot exp(-pi zeta / sqrt(1 - zeta^2)) at pi / (omega sqrt(1 - zeta^2)); 16.3 % for zeta 0.5.
TEST(LoopReport, OfASecondOrderStepHasItsOvershoot) {
  for (const double zeta : {0.2, 0.5, 0.7}) {
    SCOPED_TRACE(zeta);
    const double omega = 0.02, damped = omega * std::sqrt(1 - zeta * zeta);
    const auto second_order = [=](double t_s) {
      return 1.0 -
             std::exp(-zeta * omega * t_s) * (std::cos(damped * t_s) + zeta * omega / damped * std::sin(damped * t_s));
    };
    const auto r = stepped(second_order).report(5000);
    ASSERT_TRUE(r.step);
    EXPECT_NEAR(r.step->overshoot, std::exp(-pi * zeta / std::sqrt(1 - zeta * zeta)), 1e-4); // sampled beside the top
    // The last time outside the band is found anew by looking at every tenth of a second.
    double last_outside_s = 0;
    for (int i = 0; i < 49000; ++i)
      if (std::abs(second_order(i / 10.0) - 1) > 0.02) last_outside_s = i / 10.0;
    EXPECT_NEAR(r.step->settling_s.value(), last_outside_s, 0.2);
  }
}

TEST(LoopReport, TellsTheLastStepAndLateErrorsFromThere) {
  RecordedLoop run{.settings = {.step_least = 1.0}};
  run.set_point = [](double t_s) { return t_s < 100 ? 0.0 : t_s < 1000 ? 10.0 : 4.0; };
  run.value = [](double t_s) { return t_s < 1000 ? 9.0 : 4.0 + 5.0 * std::exp(-(t_s - 1000) / 50); };
  const auto r = run.report(2000);
  ASSERT_TRUE(r.step);
  EXPECT_DOUBLE_EQ(r.step->size, -5.0);
  // 9 for 100 s, 1 for 900 s, and 5 exp(-t / 50), each from its own beginning.
  EXPECT_NEAR(r.late_absolute_error.value() * 3600 * 2000, 9 * 5000.0 + 900 * 450.0 + 5 * 2500.0, 1.0);
  EXPECT_NEAR(r.step->rise_s.value(), 50 * std::log(9.0), 0.02);
}

TEST(LoopReport, EndsTheAnswerToAStepWhenTheSetPointMovesOn) {
  auto run = stepped([](double t_s) { return 1.0 - std::exp(-t_s / 200); });
  run.set_point = [](double t_s) { return t_s < 100 ? 0.0 : t_s < 400 ? 10.0 : 10.0 + (t_s - 400) / 100; };
  const auto r = run.report(2000);
  ASSERT_TRUE(r.step);
  EXPECT_FALSE(r.step->under_way);
  EXPECT_FALSE(r.step->settling_s);
}

TEST(LoopReport, CallsARampNoStep) {
  RecordedLoop run{.settings = {.step_least = 1.0}};
  run.set_point = [](double t_s) { return t_s / 10; };
  EXPECT_FALSE(run.report(1000).step);
}

// On for 60 of every 300 s from the start: 24 changes an hour, a fifth of the time, runs of 60 s.
TEST(LoopReport, CountsWhatTheOutputDoes) {
  RecordedLoop run{.settings = {.switched = true}};
  run.output = [](double t_s) { return std::fmod(t_s, 300) < 60 ? 1.0 : 0.0; };
  const auto r = run.report(3600 - 1);
  EXPECT_NEAR(r.on_share.value(), 720.0 / 3599, 1e-12);
  EXPECT_NEAR(r.switchings_per_h.value(), 23 * 3600.0 / 3599, 1e-9);
  EXPECT_DOUBLE_EQ(r.longest_run_s, 60);
  EXPECT_DOUBLE_EQ(r.output_travel, 23);
  EXPECT_FALSE(r.limit_share);
}

TEST(LoopReport, MeasuresTravelInSpansAndTimeAtALimit) {
  RecordedLoop run{.settings = {.output_low = 0, .output_high = 100}};
  run.output = [](double t_s) { return std::min(100.0, t_s); }; // up at 1 % a second, then at its end
  const auto r = run.report(400);
  EXPECT_NEAR(r.output_travel, 1.0, 1e-12);
  EXPECT_NEAR(r.limit_share.value(), 301.0 / 400, 1e-12); // from 100 s on, and its first second at 0
  EXPECT_NEAR(r.longest_run_s, 349, 1e-9);                // above 50 % from 51 s on
}

TEST(LoopReport, JudgesOnlyWhatIsInAutomaticAndMeasured) {
  LoopRecord record{{.band = 1.0}};
  const auto sample = [&](int at_s, std::optional<double> value, bool automatic) {
    record.add({at_s * 1s, 0.0, value, 0.5, automatic});
  };
  for (int s = 0; s <= 10; ++s) sample(s, 0.0, true);
  for (int s = 11; s <= 20; ++s) sample(s, 50.0, false);
  for (int s = 21; s <= 30; ++s) sample(s, std::nullopt, true);
  for (int s = 31; s <= 40; ++s) sample(s, NAN, true);
  for (int s = 41; s <= 45; ++s) sample(s, 50.0, false);
  for (int s = 46; s <= 50; ++s) sample(s, 0.0, true);
  const auto r = record.report();
  EXPECT_DOUBLE_EQ(r.observed_s, 50);
  EXPECT_DOUBLE_EQ(r.judged_s, 10 + 4);
  EXPECT_DOUBLE_EQ(r.automatic_share.value(), 35.0 / 50);
  EXPECT_DOUBLE_EQ(r.absolute_error.value(), 0.0);
  EXPECT_DOUBLE_EQ(r.within_band_share.value(), 1.0);
}

TEST(LoopReport, LeavesGapsOutAndRefusesWhatComesLate) {
  LoopRecord record{{}};
  record.add({0s, 0.0, 1.0, 1.0, true});
  record.add({60s, 0.0, 1.0, 1.0, true});
  record.add({121s, 0.0, 99.0, 1.0, true}); // one second more than is bridged
  record.add({150s, 0.0, 99.0, 1.0, true});
  record.add({150s, 0.0, 0.0, 1.0, true});
  record.add({149s, 0.0, 0.0, 1.0, true});
  record.add({151s, 0.0, 0.0, NAN, true});
  const auto r = record.report();
  EXPECT_DOUBLE_EQ(r.observed_s, 60 + 29);
  EXPECT_DOUBLE_EQ(r.gaps_s, 61);
  EXPECT_EQ(r.refused, 3);
  EXPECT_NEAR(r.absolute_error.value(), (60 * 1.0 + 29 * 99.0) / 89, 1e-12);
  EXPECT_DOUBLE_EQ(r.longest_run_s, 60); // nobody knows what it did in between
}

TEST(LoopReport, OfNothingSaysNothing) {
  const auto r = LoopRecord{{}}.report();
  EXPECT_FALSE(r.automatic_share || r.error_mean || r.error_sd || r.within_band_share || r.absolute_error);
  EXPECT_FALSE(r.late_absolute_error || r.switchings_per_h || r.on_share || r.limit_share || r.step || r.idle_index);
  EXPECT_FALSE(r.oscillation.oscillating);
}

// A large common offset costs no digits of the deviation: values of 293.15 K with 0.001 K of ripple.
TEST(LoopReport, KeepsItsDigitsFarFromZero) {
  RecordedLoop run;
  run.value = [](double t_s) { return 293.15 + 0.001 * std::sin(2 * pi * t_s / 600); };
  EXPECT_NEAR(run.report(6000).error_sd.value() / (0.001 / std::numbers::sqrt2), 1.0, 1e-4);
}

RC_GTEST_PROP(LoopReport, IsTheSameWhetherAStraightCourseIsSampledOftenOrSeldom, ()) {
  const double from = *rc::gen::inRange(-100, 100) / 10.0, to = *rc::gen::inRange(-100, 100) / 10.0;
  const double band = *rc::gen::inRange(0, 80) / 10.0;
  RecordedLoop run{.settings = {.band = band}};
  run.value = [=](double t_s) { return from + (to - from) * t_s / 60; };
  const auto often = run.report(60);
  run.every_s = *rc::gen::element(2, 5, 20, 60);
  const auto seldom = run.report(60);
  for (const auto figure : {&LoopReport::error_mean, &LoopReport::error_sd, &LoopReport::within_band_share,
                            &LoopReport::absolute_error, &LoopReport::late_absolute_error})
    RC_ASSERT(std::abs((often.*figure).value() - (seldom.*figure).value()) < 1e-7);
}

} // namespace oxherd::control::loop_report_test
