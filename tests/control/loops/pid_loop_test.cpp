#include <algorithm>
#include <cmath>
#include <functional>

#include <gtest/gtest.h>

#include "control/loops/pid.hpp"
#include "tests/control/loops/plants.hpp"

// Controller and plant together, against what can be worked out by hand.
namespace oxherd::control::pid_loop_test {

using plants::at_s;

constexpr double plant_gain = 2.0, time_constant_s = 100.0;

TEST(FirstOrderPlant, FollowsItsStepResponseExactly) {
  plants::FirstOrder plant{plant_gain, time_constant_s};
  for (int i = 1; i <= 100; ++i) {
    const double value = plant.step(1.0, 7.0);
    EXPECT_NEAR(value, plant_gain * (1.0 - std::exp(-7.0 * i / time_constant_s)), 1e-12);
  }
}

TEST(ThreeLags, FollowTheirStepResponseExactly) {
  plants::ThreeLags plant;
  for (int i = 1; i <= 100; ++i) {
    const double t = 0.1 * i;
    EXPECT_NEAR(plant.step(1.0, 0.1), 1.0 - std::exp(-t) * (1.0 + t + 0.5 * t * t), 1e-12);
  }
}

Pid controller(double gain) { return {.gain = gain, .output_low = -1e9, .output_high = 1e9}; }

// With the plant solved exactly over an interval h, a = exp(-h / T):
//   y[k+1] = a y[k] + (1 - a) K Kp (r - y[k]), so y[k] = y_end (1 - p^k) with p = a - (1 - a) K Kp.
TEST(PidLoop, UnderProportionalControlIsTheGeometricSequenceToTheLastDigits) {
  constexpr double interval_s = 5.0, gain = 3.0, set_point = 1.0;
  const double a = std::exp(-interval_s / time_constant_s);
  const double p = a - (1.0 - a) * plant_gain * gain;
  const double end = plant_gain * gain / (1.0 + plant_gain * gain); // the lasting deviation of proportional control
  plants::FirstOrder plant{plant_gain, time_constant_s};
  PidState state;
  for (int i = 0; i <= 200; ++i) {
    EXPECT_NEAR(plant.value, end * (1.0 - std::pow(p, i)), 1e-12);
    const auto step =
        next(controller(gain), state, {.value = plant.value, .set_point = set_point}, at_s(i * interval_s));
    state = step.state;
    plant.step(step.output.value(), interval_s);
  }
}

/// PI control with set-point weight b of the first-order plant, after a unit step of the set-point at rest:
///   y / r = w^2 (1 + b Ti s) / (s^2 + 2 z w s + w^2) with w^2 = K Kp / (T Ti) and 2 z w = (1 + K Kp) / T.
struct ClosedForm {
  double gain, integral_time_s, set_point_weight;
  [[nodiscard]] double operator()(double t) const {
    const double w = std::sqrt(plant_gain * gain / (time_constant_s * integral_time_s));
    const double z = (1.0 + plant_gain * gain) / (2.0 * w * time_constant_s);
    const double wd = w * std::sqrt(1.0 - z * z); // these swing: z < 1
    const double decay = std::exp(-z * w * t);
    const double y = 1.0 - decay * (std::cos(wd * t) + z * w / wd * std::sin(wd * t));
    const double slope = w * w / wd * decay * std::sin(wd * t);
    return y + set_point_weight * integral_time_s * slope;
  }
};

/// The values of the loop every 4 s for 20 min, with control every `interval_s`.
std::vector<double> simulated(const ClosedForm& form, double interval_s) {
  Pid rule = controller(form.gain);
  rule.integral_time_s = form.integral_time_s;
  rule.set_point_weight = form.set_point_weight;
  plants::FirstOrder plant{plant_gain, time_constant_s};
  PidState state;
  std::vector<double> values;
  const auto each = std::lround(4.0 / interval_s);
  for (int i = 0; i <= std::lround(1200.0 / interval_s); ++i) {
    if (i % each == 0) values.push_back(plant.value);
    const auto step = next(rule, state, {.value = plant.value, .set_point = 1.0}, at_s(i * interval_s));
    state = step.state;
    plant.step(step.output.value(), interval_s);
  }
  return values;
}

double worst_error(const ClosedForm& form, const std::function<double(std::size_t)>& value, std::size_t count) {
  double worst = 0.0;
  for (std::size_t i = 0; i < count; ++i)
    worst = std::max(worst, std::abs(value(i) - form(4.0 * static_cast<double>(i))));
  return worst;
}

// A sampled controller holds its output for an interval, which is a delay of half of it: the error against the
// continuous closed form must be proportional to the interval, and what is left after that is taken out (2 y(h/2) -
// y(h)) to its square. A loop that tended to anything else would show in the factors 2 and 4.
TEST(PidLoop, UnderPiControlTendsToTheSecondOrderClosedForm) {
  for (const double weight : {0.0, 0.5, 1.0}) {
    SCOPED_TRACE(weight);
    const ClosedForm form{1.5, 20.0, weight};
    const auto coarse = simulated(form, 0.4), middle = simulated(form, 0.2), fine = simulated(form, 0.1);
    const auto n = fine.size();
    const double first = worst_error(
        form, [&](std::size_t i) { return middle[i]; }, n);
    const double second = worst_error(
        form, [&](std::size_t i) { return fine[i]; }, n);
    EXPECT_NEAR(first / second, 2.0, 0.05);
    const double square_first = worst_error(
        form, [&](std::size_t i) { return 2.0 * middle[i] - coarse[i]; }, n);
    const double square_second = worst_error(
        form, [&](std::size_t i) { return 2.0 * fine[i] - middle[i]; }, n);
    EXPECT_NEAR(square_first / square_second, 4.0, 0.2);
    RecordProperty("worst_error_at_100_ms", std::to_string(second));
    RecordProperty("worst_error_extrapolated", std::to_string(square_second * 1e6) + "e-6");
  }
}

/// How far the value runs over a set-point of 1 that the plant can only reach slowly (output at most 0.6).
double overshoot(std::optional<double> tracking_time_s) {
  Pid rule{.gain = 1.5, .integral_time_s = 20.0, .output_high = 0.6, .tracking_time_s = tracking_time_s};
  plants::FirstOrder plant{plant_gain, time_constant_s};
  PidState state;
  double greatest = 0.0;
  for (int i = 0; i <= 3000; ++i) {
    const auto step = next(rule, state, {.value = plant.value, .set_point = 1.0}, at_s(i));
    state = step.state;
    greatest = std::max(greatest, plant.step(step.output.value(), 1.0));
  }
  return greatest - 1.0;
}

// The same loop without limits overshoots by its closed form, which is the measure: limits must not make it worse.
// 1.2 is where an output of 0.6 leads for ever; without anti-windup the value nearly gets there.
TEST(PidLoop, OvershootsNoMoreForItsLimitsWithAntiWindupAndToTheVeryLimitWithoutIt) {
  const ClosedForm free{1.5, 20.0, 1.0};
  double free_overshoot = 0.0;
  for (int i = 0; i <= 3000; ++i) free_overshoot = std::max(free_overshoot, free(i) - 1.0);
  const double with = overshoot(std::nullopt), without = overshoot(INFINITY);
  RecordProperty("free", std::to_string(free_overshoot));
  RecordProperty("with", std::to_string(with));
  RecordProperty("without", std::to_string(without));
  EXPECT_LT(with, free_overshoot);
  EXPECT_GT(without, 0.9 * 0.2);
}

} // namespace oxherd::control::pid_loop_test
