#include "control/loops/pid.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

namespace oxherd::control {
namespace {

double signed_gain(const Pid& rule) { return rule.effect == Effect::raises ? rule.gain : -rule.gain; }

double proportional(const Pid& rule, double value, double set_point) {
  return signed_gain(rule) * (rule.set_point_weight * set_point - value);
}

double tracking_time_s(const Pid& rule) {
  if (rule.tracking_time_s) return *rule.tracking_time_s;
  const double integral_time_s = rule.integral_time_s.value_or(0.0);
  return rule.derivative_time_s > 0.0 ? std::sqrt(integral_time_s * rule.derivative_time_s) : integral_time_s;
}

/// The old parameters' sum for the last value stays what it was, so that the change itself moves nothing.
void take_over(const Pid& rule, PidState& state) {
  if (state.in_force && *state.in_force != rule && state.last && rule.integral_time_s) {
    const auto& old = *state.in_force;
    state.integral += proportional(old, state.last->value, state.last->set_point) -
                      proportional(rule, state.last->value, state.last->set_point);
  }
  if (rule.derivative_time_s <= 0.0 && state.derivative != 0.0) {
    if (rule.integral_time_s) state.integral += state.derivative;
    state.derivative = 0.0;
  }
  state.in_force = rule;
}

void integrate(const Pid& rule, PidState& state, const PidInput& in, double passed_s) {
  if (!rule.integral_time_s || state.last->uncertain || in.uncertain) return;
  const double mean_value = 0.5 * (state.last->value + in.value);
  state.integral += signed_gain(rule) / *rule.integral_time_s * passed_s * (state.last->set_point - mean_value);
  // The share of a first-order approach in that time; a long interval must not overshoot.
  state.integral += state.cut * -std::expm1(-passed_s / tracking_time_s(rule));
}

void differentiate(const Pid& rule, PidState& state, const PidInput& in, double passed_s) {
  if (rule.derivative_time_s <= 0.0) return;
  const double gain = signed_gain(rule);
  const double lags = passed_s * rule.derivative_filter / rule.derivative_time_s; // the interval in filter times
  // The response to a ramp, per step of the value: N (1 - exp(-lags)) / lags, which is N for an interval of zero.
  const double per_step = rule.derivative_filter * (lags > 0.0 ? -std::expm1(-lags) / lags : 1.0);
  state.derivative = state.derivative * std::exp(-lags) - gain * per_step * (in.value - state.last->value);
  // The set-point steps at this moment, so that the filter has not had any time yet.
  state.derivative += gain * rule.derivative_filter * rule.derivative_weight * (in.set_point - state.last->set_point);
}

double limited(const Pid& rule, const PidState& state, double wanted, Monotonic now) {
  const double inside = std::clamp(wanted, rule.output_low, rule.output_high);
  if (!rule.rate_most_per_s || !state.output) return inside;
  const double reach = *rule.rate_most_per_s * alarms::seconds_of(now - state.output_at);
  return std::clamp(inside, *state.output - reach, *state.output + reach);
}

PidStep by_hand(const Pid& rule, PidState state, const PidInput& in, Monotonic now) {
  if (!std::isfinite(*in.by_hand)) return {state, std::nullopt};
  state.output = limited(rule, state, *in.by_hand, now);
  state.output_at = now;
  state.derivative = 0.0;
  state.cut = 0.0;
  state.last.reset();
  state.joins = true;
  state.in_force = rule;
  return {state, state.output};
}

} // namespace

std::string_view problem_of(const Pid& rule) {
  const auto is_above_zero = [](double x) { return x > 0.0 && std::isfinite(x); };
  const auto is_share = [](double x) { return x >= 0.0 && x <= 1.0; };
  if (!is_above_zero(rule.gain)) return "the gain must be above zero (the effect of the actuator gives its sign)";
  if (rule.integral_time_s && !is_above_zero(*rule.integral_time_s)) return "the integral time must be above zero";
  if (rule.derivative_time_s < 0.0 || !std::isfinite(rule.derivative_time_s))
    return "the derivative time is below zero";
  if (!is_above_zero(rule.derivative_filter)) return "the derivative filter must be above zero";
  if (!is_share(rule.set_point_weight) || !is_share(rule.derivative_weight)) return "a weight must be 0 to 1";
  if (!std::isfinite(rule.bias)) return "the bias is not a number";
  if (!std::isfinite(rule.output_low) || !std::isfinite(rule.output_high)) return "an output limit is not a number";
  if (rule.output_low >= rule.output_high) return "the lower output limit must be below the upper one";
  if (rule.rate_most_per_s && !is_above_zero(*rule.rate_most_per_s)) return "the rate of the output must be above zero";
  const bool tracks = !rule.tracking_time_s || *rule.tracking_time_s > 0.0; // infinity is allowed
  if (!tracks) return "the tracking time must be above zero";
  if (rule.sample_most <= Monotonic{0}) return "the longest interval must be above zero";
  return "";
}

PidState going_on_from(double output, Monotonic now) {
  PidState state;
  state.output = output;
  state.output_at = now;
  state.joins = true;
  return state;
}

PidStep next(const Pid& rule, PidState state, const PidInput& in, Monotonic now) {
  assert(problem_of(rule).empty());
  assert(!state.last || now >= state.last->at);
  if (in.by_hand) return by_hand(rule, state, in, now);
  if (!std::isfinite(in.value) || !std::isfinite(in.set_point) || !std::isfinite(in.feed_forward))
    return {state, std::nullopt};

  const PidState before = state;
  take_over(rule, state);
  if (state.last && now - state.last->at <= rule.sample_most) {
    const double passed_s = alarms::seconds_of(now - state.last->at);
    integrate(rule, state, in, passed_s);
    differentiate(rule, state, in, passed_s);
  } else {
    state.derivative = 0.0;
  }
  PidParts parts;
  parts.proportional = proportional(rule, in.value, in.set_point);
  parts.derivative = state.derivative;
  parts.feed_forward = in.feed_forward;
  if (!rule.integral_time_s)
    state.integral = rule.bias;
  else if (state.joins && state.output)
    state.integral = *state.output - (parts.proportional + parts.derivative + parts.feed_forward);
  parts.integral = state.integral;

  const double sum = parts.proportional + parts.derivative + parts.feed_forward + parts.integral;
  if (!std::isfinite(sum)) return {before, std::nullopt}; // finite, but so large that the arithmetic ends
  state.output = limited(rule, state, sum, now);
  state.output_at = now;
  state.cut = parts.cut = *state.output - sum;
  state.last = PidSample{in.value, in.set_point, in.uncertain, now};
  state.joins = false;
  return {state, state.output, parts};
}

} // namespace oxherd::control
