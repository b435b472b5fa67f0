#include "control/loops/relay_tuning.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <numbers>

namespace oxherd::control {
namespace {

using alarms::seconds_of;

RelayStep ended(RelayState state, RelayPhase how, Monotonic now) {
  state.phase = how;
  state.ended = now;
  return {std::move(state), std::nullopt};
}

template <class Number> double mean_of(const std::vector<RelayPeriod>& periods, Number number) {
  double sum = 0.0;
  for (const auto& period : periods) sum += number(period);
  return sum / static_cast<double>(periods.size());
}

template <class Number> bool agree(const std::vector<RelayPeriod>& periods, double tolerance, Number number) {
  double least = number(periods.front()), greatest = least;
  for (const auto& period : periods) {
    least = std::min(least, number(period));
    greatest = std::max(greatest, number(period));
  }
  return greatest - least <= tolerance * mean_of(periods, number);
}

bool is_steady(const RelayTuning& rule, const std::vector<RelayPeriod>& periods) {
  return periods.size() == static_cast<std::size_t>(rule.periods_agreeing) &&
         agree(periods, rule.tolerance, [](const RelayPeriod& p) { return p.length_s; }) &&
         agree(periods, rule.tolerance, [](const RelayPeriod& p) { return p.swing; });
}

/// The relay goes up: one swing is complete, if there was a rise before.
void complete_swing(const RelayTuning& rule, RelayState& state, Monotonic now) {
  if (state.rose) {
    const double length_s = seconds_of(now - *state.rose);
    ++state.periods;
    state.last.push_back({length_s, state.greatest - state.least, seconds_of(state.fell - *state.rose) / length_s});
    if (state.last.size() > static_cast<std::size_t>(rule.periods_agreeing)) state.last.erase(state.last.begin());
  }
  state.rose = now;
}

} // namespace

std::string_view problem_of(const RelayTuning& rule) {
  for (const double x : {rule.set_point, rule.hysteresis, rule.output_low, rule.output_high, rule.value_low,
                         rule.value_high, rule.tolerance})
    if (!std::isfinite(x)) return "one of the numbers is not finite";
  if (rule.hysteresis < 0.0) return "the hysteresis is below zero";
  if (rule.output_low >= rule.output_high) return "the lower output must be below the upper one";
  const bool encloses =
      rule.value_low < rule.set_point - rule.hysteresis && rule.set_point + rule.hysteresis < rule.value_high;
  if (!encloses) return "the limits of the value must enclose the set-point with its hysteresis";
  if (rule.longest <= Monotonic{0}) return "the longest time must be above zero";
  if (rule.periods_agreeing < 2) return "two periods at least must agree";
  if (rule.periods_most < rule.periods_agreeing) return "more periods must agree than are waited for";
  if (rule.tolerance <= 0.0) return "the tolerance must be above zero";
  return "";
}

std::string_view words_of(RelayPhase phase) {
  switch (phase) {
  case RelayPhase::running: return "the tuning experiment is running";
  case RelayPhase::finished: return "the tuning experiment is finished";
  case RelayPhase::value_left_limits: return "the value left the limits of the experiment";
  case RelayPhase::took_too_long: return "the experiment took longer than it may";
  case RelayPhase::does_not_settle: return "the oscillation did not become steady";
  case RelayPhase::value_bad: return "the value was lost";
  case RelayPhase::value_uncertain: return "the value became uncertain";
  case RelayPhase::ended_by_person: return "a person ended the experiment";
  }
  return "";
}

RelayStep next(const RelayTuning& rule, RelayState state, const RelayInput& in, Monotonic now) {
  assert(problem_of(rule).empty());
  if (state.phase != RelayPhase::running) return {state, std::nullopt};
  const bool first = !state.began;
  if (first) state.began = now;
  if (in.ended_by_person) return ended(state, RelayPhase::ended_by_person, now);
  if (!in.value || !std::isfinite(*in.value)) return ended(state, RelayPhase::value_bad, now);
  if (in.uncertain) return ended(state, RelayPhase::value_uncertain, now);
  const double value = *in.value;
  if (value < rule.value_low || value > rule.value_high) return ended(state, RelayPhase::value_left_limits, now);
  if (now - *state.began >= rule.longest) return ended(state, RelayPhase::took_too_long, now);

  const double lacking = rule.effect == Effect::raises ? rule.set_point - value : value - rule.set_point;
  state.least = std::min(state.least, value);
  state.greatest = std::max(state.greatest, value);
  if (first) {
    state.high = lacking > 0.0; // no rise is counted: nobody knows since when the value is there
  } else if (state.high && lacking < -rule.hysteresis) {
    state.high = false;
    state.fell = now;
  } else if (!state.high && lacking > rule.hysteresis) {
    state.high = true;
    complete_swing(rule, state, now);
    state.least = state.greatest = value;
    if (is_steady(rule, state.last)) return ended(state, RelayPhase::finished, now);
    if (state.periods >= rule.periods_most) return ended(state, RelayPhase::does_not_settle, now);
  }
  return {state, state.high ? rule.output_high : rule.output_low};
}

std::optional<Ultimate> ultimate_of(const RelayTuning& rule, const RelayState& state) {
  if (state.phase != RelayPhase::finished) return std::nullopt;
  Ultimate found;
  found.period_s = mean_of(state.last, [](const RelayPeriod& p) { return p.length_s; });
  found.swing = mean_of(state.last, [](const RelayPeriod& p) { return p.swing; });
  found.on_share = mean_of(state.last, [](const RelayPeriod& p) { return p.on_share; });
  const double half_step = 0.5 * (rule.output_high - rule.output_low);
  const double half_swing = 0.5 * found.swing;
  // The relay switches beyond the hysteresis on both sides, so that the swing is always the wider one.
  const double sine_part = std::sqrt(half_swing * half_swing - rule.hysteresis * rule.hysteresis);
  // The first harmonic of uneven levels is smaller by sin(pi on_share), but so, about, is that of the value beside its
  // swing: counting one of them alone makes it worse (first-order plant with dead time, exact).
  found.gain = 4.0 * half_step / (std::numbers::pi * sine_part);
  found.output_mean = found.on_share * rule.output_high + (1.0 - found.on_share) * rule.output_low;
  return found;
}

std::string_view words_of(TuningRule rule) {
  switch (rule) {
  case TuningRule::cautious_pi: return "cautious PI (Tyreus and Luyben 1992): slow, overshoots little";
  case TuningRule::cautious_pid:
    return "cautious PID (Tyreus and Luyben): as the PI, for a slow plant with little noise";
  case TuningRule::quick_p: return "quick P (Ziegler and Nichols 1942): leaves a lasting deviation";
  case TuningRule::quick_pi: return "quick PI (Ziegler and Nichols 1942): overshoots and swings";
  case TuningRule::quick_pid: return "quick PID (Ziegler and Nichols 1942): overshoots, for a plant with little noise";
  }
  return "";
}

Proposal proposal_of(TuningRule rule, const Ultimate& ultimate) {
  const double ku = ultimate.gain, pu_s = ultimate.period_s;
  switch (rule) {
  case TuningRule::cautious_pi: return {rule, ku / 3.2, 2.2 * pu_s};
  case TuningRule::cautious_pid: return {rule, ku / 2.2, 2.2 * pu_s, pu_s / 6.3};
  case TuningRule::quick_p: return {rule, 0.5 * ku};
  case TuningRule::quick_pi: return {rule, 0.45 * ku, pu_s / 1.2};
  case TuningRule::quick_pid: return {rule, 0.6 * ku, 0.5 * pu_s, pu_s / 8.0};
  }
  return {};
}

Pid tuned(Pid controller, const Proposal& proposal) {
  controller.gain = proposal.gain;
  controller.integral_time_s = proposal.integral_time_s;
  controller.derivative_time_s = proposal.derivative_time_s;
  return controller;
}

} // namespace oxherd::control
