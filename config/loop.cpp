#include <array>

#include <fmt/core.h>

#include "config/hours.hpp"
#include "config/loop_value.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;
using control::ProcessValue;

constexpr std::array<Choice<LoopMethod>, 3> loop_methods{{{"on-off", LoopMethod::on_off},
                                                          {"time-proportioned", LoopMethod::time_proportioned},
                                                          {"continuous", LoopMethod::continuous}}};

constexpr QuantityRule loop_period{Dimension::duration, 0.25, 60.0, "250 ms to 1 min"};
constexpr QuantityRule action_time_span{Dimension::duration, 1.0, 86400.0, "1 s to 24 h"};
constexpr QuantityRule pulse_cycle_span{Dimension::duration, 10.0, 3600.0, "10 s to 1 h"};
constexpr QuantityRule output_span{Dimension::ratio, 0.0, 1.0, "0 % to 100 %"};
constexpr QuantityRule added_output_span{Dimension::ratio, -1.0, 1.0, "-100 % to 100 %"};
/// Per minute: twenty minutes to a second for the whole way.
constexpr QuantityRule output_rate_span{Dimension::ratio, 0.05, 60.0, "5 % to 6000 %"};

/// Seconds of a time that is there in milliseconds.
std::optional<double> read_seconds(TableReader& in, std::string_view key) {
  const auto time = in.duration(key, action_time_span);
  return time ? std::optional{alarms::seconds_of(*time)} : std::nullopt;
}

void refuse_keys(TableReader& in, std::initializer_list<std::string_view> keys, std::string_view why) {
  for (const std::string_view key : keys)
    if (in.has(key)) in.error(key, std::string{why});
}

void read_on_off(TableReader& in, const LoopValue& of, Loop& loop) {
  loop.on_off.on_beyond = in.quantity("switch_on_beyond", of.distance).value_or(of.on_beyond);
  QuantityRule within = of.distance;
  within.low = -within.high;
  loop.on_off.off_within = in.quantity("switch_off_within", within).value_or(0.0);
  if (const auto problem = problem_of(loop.on_off); !problem.empty())
    in.error(in.has("switch_off_within") ? "switch_off_within" : "switch_on_beyond", std::string{problem});
  refuse_keys(in,
              {"proportional_band", "integral_time", "derivative_time", "set_point_weight", "output_low", "output_high",
               "output_per_minute", "lights_add", "cycle"},
              "belongs to method \"time-proportioned\" or \"continuous\"");
}

void read_controller(TableReader& in, const LoopValue& of, Loop& loop) {
  auto& pid = loop.pid;
  pid.gain = 1.0 / in.quantity("proportional_band", of.distance).value_or(of.band);
  pid.integral_time_s = read_seconds(in, "integral_time").value_or(1200.0);
  pid.derivative_time_s = read_seconds(in, "derivative_time").value_or(0.0);
  pid.set_point_weight = in.number("set_point_weight", 0.0, 1.0).value_or(pid.set_point_weight);
  pid.output_low = in.quantity("output_low", output_span).value_or(pid.output_low);
  pid.output_high = in.quantity("output_high", output_span).value_or(pid.output_high);
  if (pid.output_low >= pid.output_high)
    in.error(in.has("output_high") ? "output_high" : "output_low", "output_low must be below output_high");
  if (const auto rate = in.quantity("output_per_minute", output_rate_span)) pid.rate_most_per_s = *rate / 60.0;
  if (const auto add = in.quantity("lights_add", added_output_span)) loop.known_load = KnownLoad{true, *add};
  if (const auto problem = problem_of(pid); !problem.empty()) in.error("", std::string{problem});
  refuse_keys(in, {"switch_on_beyond", "switch_off_within"}, "belongs to method \"on-off\"");
  if (loop.method == LoopMethod::time_proportioned) {
    loop.pulses.cycle = in.duration("cycle", pulse_cycle_span).value_or(loop.pulses.cycle);
    return;
  }
  refuse_keys(in, {"cycle"}, "belongs to method \"time-proportioned\"");
}

void pass_over_all(TableReader& in) {
  for (const std::string_view key : {"set_point", "program", "method", "switch_on_beyond", "switch_off_within",
                                     "proportional_band", "integral_time", "derivative_time", "set_point_weight",
                                     "output_low", "output_high", "output_per_minute", "lights_add", "cycle", "every"})
    in.pass_over(key);
}

void read_target(TableReader& in, const LoopValue& of, const Site& site, Loop& loop) {
  if (in.has("program") && in.has("set_point")) in.error("set_point", "and the table \"program\" exclude each other");
  if (!in.has("program")) {
    in.require("set_point", of.example);
    loop.set_point = in.quantity("set_point", of.set_point);
  } else if (auto program = in.table("program")) {
    loop.program = read_program(*program, {of.set_point, of.distance, of.example}, site);
  }
}

} // namespace

std::string_view name_of(LoopMethod method) {
  for (const auto& choice : loop_methods)
    if (choice.value == method) return choice.word;
  return "";
}

Loop read_loop(const std::string& name, TableReader in, const Site& site, const std::vector<Output>& outputs) {
  Loop loop;
  loop.name = name;
  in.require("holds", "\"temperature\"");
  in.require("output", "\"chamber-heater\"");
  loop.output = in.text("output").value_or("");
  std::vector<std::string> words;
  for (const ProcessValue value : control::all_process_values) words.emplace_back(name_of(value));
  const auto index = in.word("holds", words);
  if (!index) {
    pass_over_all(in);
    in.finish();
    return loop;
  }
  loop.holds = control::all_process_values.at(*index);
  const auto of = loop_value(loop.holds);
  read_target(in, of, site, loop);

  const Actuator* actuator = actuator_named(outputs, loop.output);
  const bool is_coil = actuator == nullptr || actuator->at.is_coil;
  loop.method = in.choice("method", loop_methods).value_or(is_coil ? LoopMethod::on_off : LoopMethod::continuous);
  loop.every = in.duration("every", loop_period).value_or(loop.every);
  if (loop.method == LoopMethod::on_off)
    read_on_off(in, of, loop);
  else
    read_controller(in, of, loop);
  if (actuator != nullptr) {
    const auto effect = control::effect_of(actuator->rules.duty, loop.holds);
    loop.on_off.effect = loop.pid.effect = effect.value_or(control::Effect::raises);
    loop.pulses.on_least = actuator->rules.times.on_least;
    loop.pulses.off_least = actuator->rules.times.off_least;
  }
  in.finish();
  return loop;
}

} // namespace oxherd::config
