#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/nearest.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;
using control::Duty;
using control::SafeState;

constexpr std::array<Choice<SafeState>, 3> safe_states{
    {{"off", SafeState::off}, {"on", SafeState::on}, {"on-for-people", SafeState::on_for_people}}};
constexpr std::array<Choice<bool>, 2> ways_of_working{{{"energised", true}, {"de-energised", false}}};

constexpr std::array<std::string_view, 16> keys_of_actuators{
    "duty",       "works_when", "safe",    "min_on", "min_off",     "max_on", "starts_per_hour", "needs", "flow",
    "gas_oxygen", "dead_time",  "ceiling", "group",  "run_at_most", "at_0",   "at_100"};

constexpr QuantityRule least_time_span{Dimension::duration, 0.0, 3600.0, "0 s to 1 h"};
constexpr QuantityRule on_most_span{Dimension::duration, 0.5, 7.0 * 86400.0, "500 ms to 7 d"};
constexpr QuantityRule run_span{Dimension::duration, 60.0, 92.0 * 86400.0, "1 min to 92 d"};
constexpr QuantityRule supply_flow_span{Dimension::volume_flow, 1e-6, 10.0, "3.6 l/h to 36000 m3/h"};
constexpr QuantityRule dead_time_span{Dimension::duration, 0.0, 7200.0, "0 s to 2 h"};
constexpr QuantityRule purge_gas_span{Dimension::ratio, 0.0, 0.1, "0 % to 10 %"};
/// Above the 15-minute limits of the US and the UK no air counts as good for anybody.
constexpr QuantityRule ceiling_span{Dimension::ratio, 500e-6, 0.05, "500 ppm to 5 %"};
/// Enrichment is stopped here (common practice, no source).
constexpr double ceiling_by_default = 1500e-6;

std::optional<Duty> read_duty(TableReader& in) {
  in.require("duty", "\"ventilation\"");
  std::vector<std::string> words;
  for (const Duty duty : control::all_duties) words.emplace_back(name_of(duty));
  const auto index = in.word("duty", words);
  return index ? std::optional{control::all_duties.at(*index)} : std::nullopt;
}

std::vector<control::Condition> read_needs(TableReader& in) {
  std::vector<std::string> words;
  for (const control::Condition condition : control::all_conditions()) words.emplace_back(name_of(condition));
  std::vector<control::Condition> needs;
  for (const auto& word : in.texts("needs"))
    if (const auto condition = control::condition_named(word))
      needs.push_back(*condition);
    else
      in.error("needs", fmt::format("\"{}\" is nothing that can be needed; there is {}", word,
                                    listed_nearest_first(word, words)));
  return needs;
}

void read_times(TableReader& in, control::SwitchingTimes& times) {
  times.on_least = in.duration("min_on", least_time_span).value_or(times.on_least);
  times.off_least = in.duration("min_off", least_time_span).value_or(times.off_least);
  if (const auto most = in.duration("max_on", on_most_span)) times.on_most = *most;
  if (const auto starts = in.integer("starts_per_hour", {1, 3600})) times.starts_per_hour = *starts;
  if (times.on_most && *times.on_most < times.on_least)
    in.error(in.has("max_on") ? "max_on" : "min_on", "min_on is longer than max_on");
}

/// How a coil or register shows the output. Whatever fails must leave it in its safe state.
void read_way_of_working(TableReader& in, Actuator& actuator) {
  const auto duty = actuator.rules.duty;
  const auto facts = control::facts_of(duty);
  if (actuator.at.is_coil) {
    actuator.works_energised = in.choice("works_when", ways_of_working).value_or(!facts.airs);
    for (const std::string_view key : {"at_0", "at_100"})
      if (in.has(key)) in.error(key, "belongs to an actuator that is written to a register");
    if (facts.gas && !actuator.works_energised)
      in.error("works_when",
               fmt::format("{} must stop when its module loses its power: \"energised\"", words_of(duty)));
    if (facts.airs && actuator.works_energised)
      in.warning("works_when",
                 fmt::format("{} stops when its module loses its power or the daemon: where people may be, an element "
                             "that works de-energised goes on letting air in",
                             words_of(duty)));
    return;
  }
  if (in.has("works_when")) in.error("works_when", "belongs to an actuator that is switched by a coil");
  actuator.at_0 = static_cast<std::uint16_t>(in.integer("at_0", register_address).value_or(actuator.at_0));
  actuator.at_100 = static_cast<std::uint16_t>(in.integer("at_100", register_address).value_or(actuator.at_100));
  if (actuator.at_0 == actuator.at_100) in.error("at_100", "is the same as at_0: the output would change nothing");
  if (facts.gas)
    in.error("register",
             fmt::format("{} is switched by a coil, which its module drops when the daemon is gone", words_of(duty)));
}

void read_safe_state(TableReader& in, Actuator& actuator) {
  const auto facts = control::facts_of(actuator.rules.duty);
  actuator.rules.safe = in.choice("safe", safe_states).value_or(facts.safe);
  if (facts.gas && actuator.rules.safe != SafeState::off)
    in.error("safe", fmt::format("{} rests shut: \"off\"", words_of(actuator.rules.duty)));
  if (facts.airs && actuator.rules.safe == SafeState::off)
    in.error("safe", fmt::format("{} rests on where people may be: \"on-for-people\" or \"on\"",
                                 words_of(actuator.rules.duty)));
}

void read_gas(TableReader& in, Actuator& actuator) {
  const bool purges = actuator.rules.duty == Duty::nitrogen_purge;
  if (purges) {
    in.require("flow", "\"40 m3/h\"");
    GasSupply supply;
    supply.flow_m3_per_s = in.quantity("flow", supply_flow_span).value_or(0.0);
    supply.oxygen = in.quantity("gas_oxygen", purge_gas_span).value_or(supply.oxygen);
    supply.dead_time = in.duration("dead_time", dead_time_span).value_or(supply.dead_time);
    actuator.supply = supply;
  } else {
    for (const std::string_view key : {"flow", "gas_oxygen", "dead_time"})
      if (in.has(key)) in.error(key, "belongs to duty \"nitrogen-purge\"");
  }
  if (need_of(actuator.rules.duty, control::Condition::started_by_person) == control::Need::always)
    actuator.rules.run_most = in.duration("run_at_most", run_span).value_or(actuator.rules.run_most);
  else if (in.has("run_at_most"))
    in.error("run_at_most", "belongs to what a person starts: duty \"nitrogen-purge\" or \"scrubbing\"");
  if (actuator.rules.duty == Duty::carbon_dioxide_dosing)
    actuator.ceiling = in.quantity("ceiling", ceiling_span).value_or(ceiling_by_default);
  else if (in.has("ceiling"))
    in.error("ceiling", "belongs to duty \"carbon-dioxide-dosing\"");
}

} // namespace

std::span<const std::string_view> actuator_keys() { return keys_of_actuators; }

Actuator read_actuator(TableReader& in, std::string room, WrittenAt at) {
  Actuator actuator{std::move(room), at, {}, true, 0, 10000, {}, 0.0, {}};
  const auto duty = read_duty(in);
  if (!duty) { // nothing else can be judged, but it is not unknown either
    for (const std::string_view key : keys_of_actuators) in.pass_over(key);
    return actuator;
  }
  actuator.rules.duty = *duty;
  actuator.rules.times = control::facts_of(*duty).times;
  read_times(in, actuator.rules.times);
  actuator.rules.asked_for = read_needs(in);
  read_way_of_working(in, actuator);
  read_safe_state(in, actuator);
  read_gas(in, actuator);
  actuator.group = in.text("group").value_or("");
  return actuator;
}

} // namespace oxherd::config
