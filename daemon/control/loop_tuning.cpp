#include "daemon/control/loop_tuning.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "config/loop_value.hpp"

namespace oxherd::daemon {
namespace {

using control::ProcessValue;
using control::TuningRule;
using Levels = TuningOrder::Levels;

/// A difference of a process value in the unit that the settings take, to three digits.
std::string distance_text(ProcessValue holds, double si) {
  const auto unit = shown_unit_of(holds);
  const double shown = si * unit.scale;
  const int decimals = shown > 0.0 ? std::max(0, 2 - static_cast<int>(std::floor(std::log10(shown)))) : 0;
  return fmt::format("{:.{}f} {}", shown, decimals, unit.symbol == "°C" ? "K" : unit.symbol);
}

tl::expected<double, std::string> quantity(std::string_view what, std::string_view typed,
                                           const config::QuantityRule& rule) {
  const auto si = compensation::parse_quantity(typed, rule.dimension);
  if (!si) return tl::unexpected(fmt::format("{}: {}", what, si.error().message));
  return *si;
}

tl::expected<Levels, std::string> levels_of(const config::Loop& loop, const LoopNow& at, const TuningOrder& order) {
  const Levels widest{loop.pid.output_low, loop.pid.output_high};
  if (loop.method == config::LoopMethod::time_proportioned) {
    if (widest.low > 0.0 || widest.high < 1.0)
      return tl::unexpected(fmt::format("its settings keep the output from {:.0f} % to {:.0f} %, and its coil is on or "
                                        "off while it is tuned: tune it with those limits taken out",
                                        widest.low * 100.0, widest.high * 100.0));
    if (order.output && (order.output->low > 0.0 || order.output->high < 1.0))
      return tl::unexpected(std::string{"output: a coil is on or off while it is tuned: leave the levels out"});
    return Levels{};
  }
  if (!order.output) {
    const double around = std::min(at.output - widest.low, widest.high - at.output);
    return 2.0 * around >= 0.2 ? Levels{at.output - around, at.output + around} : widest;
  }
  if (order.output->low < widest.low || order.output->high > widest.high || order.output->low >= order.output->high)
    return tl::unexpected(fmt::format("output: a lower and an upper level within {:.0f}%..{:.0f}%, as the settings of "
                                      "the loop permit",
                                      widest.low * 100.0, widest.high * 100.0));
  return *order.output;
}

/// What the value must be for the experiment to begin.
std::string problem_of(const control::RelayTuning& rule, double value, ProcessValue holds) {
  const auto text = [&](double si) { return text_of(holds, si); };
  if (rule.value_low >= rule.value_high)
    return fmt::format("low must be below high, and they are {} and {}", text(rule.value_low), text(rule.value_high));
  if (rule.set_point - rule.hysteresis <= rule.value_low || rule.set_point + rule.hysteresis >= rule.value_high)
    return fmt::format("the set-point {} with {} to each side is not inside {} to {}: give limits around it",
                       text(rule.set_point), distance_text(holds, rule.hysteresis), text(rule.value_low),
                       text(rule.value_high));
  if (value < rule.value_low || value > rule.value_high)
    return fmt::format("{} is {}, outside {} to {}: wait until it is inside, or give wider limits", name_of(holds),
                       text(value), text(rule.value_low), text(rule.value_high));
  return std::string{control::problem_of(rule)};
}

} // namespace

tl::expected<LoopTuning, std::string> tuning_of(const config::Loop& loop, const LoopNow& at, const TuningOrder& order,
                                                Monotonic now) {
  const auto refused = [](std::string why) { return tl::unexpected(std::move(why)); };
  if (loop.method == config::LoopMethod::on_off)
    return refused("it switches on and off and has no controller to tune: set switch_on_beyond, or a method with one");
  if (order.because.empty()) return refused("say why it is tuned");
  if (!at.set_point) return refused("it has no set-point now: start its program, or wait until it gives one");
  if (!at.reading.value || at.reading.uncertain)
    return refused(fmt::format("{} is {}, and an experiment needs a good value: {}", name_of(loop.holds),
                               at.reading.value ? "uncertain" : "not known", at.reading.trouble));
  const auto of = config::loop_value(loop.holds);
  if (order.low.empty() || order.high.empty())
    return refused(
        fmt::format("say between which values it may swing: low and high, with their unit, such as {}", of.example));
  const auto low = quantity("low", order.low, of.set_point), high = quantity("high", order.high, of.set_point);
  const auto hysteresis = order.hysteresis.empty() ? of.noise() : quantity("hysteresis", order.hysteresis, of.distance);
  for (const auto* one : {&low, &high, &hysteresis})
    if (!*one) return refused(one->error());
  const auto levels = levels_of(loop, at, order);
  if (!levels) return refused(levels.error());

  LoopTuning tuning;
  auto& rule = tuning.rule;
  rule.effect = loop.pid.effect;
  rule.set_point = *at.set_point;
  rule.hysteresis = *hysteresis;
  rule.output_low = levels->low;
  rule.output_high = levels->high;
  rule.value_low = *low;
  rule.value_high = *high;
  rule.longest = order.longest.value_or(rule.longest);
  if (rule.longest > tuning_at_most)
    return refused(fmt::format("an experiment takes {:.0f} h at most", alarms::seconds_of(tuning_at_most) / 3600.0));
  if (auto problem = problem_of(rule, *at.reading.value, loop.holds); !problem.empty()) return refused(problem);
  tuning.by = order.by;
  tuning.because = order.because;
  tuning.since = now;
  tuning.goes_on_from = at.output;
  return tuning;
}

std::optional<double> LoopTuning::step(const ProcessReading& reading, std::optional<double> set_point, Monotonic now) {
  if (set_point != rule.set_point) {
    end("the set-point moved: hold the program for the time of the experiment", now);
    return std::nullopt;
  }
  auto stepped = control::next(rule, std::move(state), {reading.value, reading.uncertain, false}, now);
  state = std::move(stepped.state);
  if (!state.last.empty()) {
    const double share = state.last.back().on_share;
    goes_on_from = share * rule.output_high + (1.0 - share) * rule.output_low;
  }
  if (!stepped.output) end(std::string{control::words_of(state.phase)}, now);
  return stepped.output;
}

void LoopTuning::end(std::string why, Monotonic now) {
  ended = now;
  outcome = std::move(why);
}

std::string words_of(const LoopTuning& tuning, ProcessValue holds) {
  const auto& rule = tuning.rule;
  return fmt::format("between {} and {}, output {:.0f} % or {:.0f} %, for {:.0f} min at most",
                     text_of(holds, rule.value_low), text_of(holds, rule.value_high), rule.output_low * 100.0,
                     rule.output_high * 100.0, alarms::seconds_of(rule.longest) / 60.0);
}

std::string never_tuned(control::Duty duty) {
  if (!control::facts_of(duty).gas) return {};
  return fmt::format("{} lets a gas in that harms people, and a relay would let it in at full flow until the room "
                     "answers: set its loop by hand",
                     words_of(duty));
}

std::string_view name_of(TuningRule rule) {
  switch (rule) {
  case TuningRule::cautious_pi: return "cautious-pi";
  case TuningRule::cautious_pid: return "cautious-pid";
  case TuningRule::quick_p: return "quick-p";
  case TuningRule::quick_pi: return "quick-pi";
  case TuningRule::quick_pid: return "quick-pid";
  }
  return "";
}

std::string settings_text(const control::Proposal& proposal, ProcessValue holds) {
  auto text = fmt::format("proportional_band = \"{}\"", distance_text(holds, 1.0 / proposal.gain));
  if (proposal.integral_time_s) text += fmt::format(", integral_time = \"{:.0f} s\"", *proposal.integral_time_s);
  if (proposal.derivative_time_s > 0.0)
    text += fmt::format(", derivative_time = \"{:.0f} s\"", proposal.derivative_time_s);
  return text;
}

std::string found_text(const LoopTuning& tuning, ProcessValue holds) {
  const auto found = control::ultimate_of(tuning.rule, tuning.state);
  if (!found) return {};
  const auto unit = shown_unit_of(holds);
  return fmt::format(
      "ultimate gain Ku {:.3g} % per {}, ultimate period Pu {:.0f} s; to try first, {}: {}{}",
      found->gain * 100.0 / unit.scale, unit.symbol == "°C" ? "K" : unit.symbol, found->period_s,
      words_of(control::tuning_by_default), settings_text(proposal_of(control::tuning_by_default, *found), holds),
      found->is_lopsided()
          ? fmt::format("; the levels lay unevenly, repeat it with levels around {:.0f} %", found->output_mean * 100.0)
          : std::string{});
}

} // namespace oxherd::daemon
