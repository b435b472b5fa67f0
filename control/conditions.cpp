#include "control/conditions.hpp"

#include <algorithm>

namespace oxherd::control {
namespace {

struct ConditionFacts {
  Condition condition;
  std::string_view name, words;
};
constexpr std::array<ConditionFacts, condition_count> condition_table{{
    {Condition::sealed, "sealed", "a person has sealed the room and its door has stayed closed since"},
    {Condition::door_closed, "door-closed", "the door is closed"},
    {Condition::nobody_in, "nobody-in", "nobody is known to be in the room"},
    {Condition::entry_withheld, "entry-withheld", "the lock of the door is withheld"},
    {Condition::oxygen_measured, "oxygen-measured", "oxygen is measured in good quality"},
    {Condition::carbon_dioxide_measured, "carbon-dioxide-measured", "carbon dioxide is measured in good quality"},
    {Condition::carbon_dioxide_below_ceiling, "carbon-dioxide-below-ceiling", "carbon dioxide is below its ceiling"},
    {Condition::over_pressure_measured, "over-pressure-measured", "the room's over-pressure is measured"},
    {Condition::over_pressure_within, "over-pressure-within", "the room's over-pressure is within its limits"},
    {Condition::relief_free, "relief-free", "nothing isolates the relief valve"},
    {Condition::no_safety_alarm, "no-safety-alarm", "no safety alarm of the room stands"},
    {Condition::vents_closed, "vents-closed", "nothing airs the room"},
    {Condition::lights_on, "lights-on", "the lights are on"},
    {Condition::air_circulates, "air-circulates", "a fan that mixes the air is proven to run"},
    {Condition::device_holds, "device-holds", "its device holds what it was told"},
    {Condition::started_by_person, "started-by-person", "a person has started it"},
    {Condition::within_longest_run, "within-longest-run", "it has not been on for longer than it may"},
    {Condition::oxygen_falls, "oxygen-falls", "oxygen falls as it should"},
    {Condition::not_tripped, "not-tripped", "no trip waits to be released by a person"},
}};

constexpr std::array<Condition, condition_count> in_order = [] {
  std::array<Condition, condition_count> all{};
  for (std::size_t i = 0; i < condition_count; ++i) all[i] = condition_table[i].condition;
  return all;
}();
static_assert([] {
  for (std::size_t i = 0; i < condition_count; ++i)
    if (index_of(in_order[i]) != i) return false;
  return true;
}());

/// What any gas has to do with.
Need need_of_gas(Condition condition) {
  switch (condition) {
  case Condition::oxygen_measured:
  case Condition::no_safety_alarm:
  case Condition::device_holds:
  case Condition::not_tripped: return Need::always;
  case Condition::door_closed:
  case Condition::nobody_in:
  case Condition::over_pressure_measured:
  case Condition::over_pressure_within:
  case Condition::relief_free: return Need::if_fitted;
  default: return Need::none;
  }
}

Need need_of_purge(Condition condition) {
  switch (condition) {
  case Condition::sealed:
  case Condition::door_closed:
  case Condition::started_by_person:
  case Condition::within_longest_run: // a pulse of dosing is ended by its switch, which is no trip
  case Condition::oxygen_falls: return Need::always;
  case Condition::entry_withheld: return Need::if_fitted;
  default: return need_of_gas(condition);
  }
}

Need need_of_carbon_dioxide(Condition condition) {
  switch (condition) {
  case Condition::carbon_dioxide_measured:
  case Condition::carbon_dioxide_below_ceiling: return Need::always;
  case Condition::vents_closed:
  case Condition::lights_on:
  case Condition::air_circulates: return Need::if_fitted;
  default: return need_of_gas(condition);
  }
}

Need need_of_ethylene(Condition condition) {
  if (condition == Condition::vents_closed || condition == Condition::air_circulates) return Need::if_fitted;
  return need_of_gas(condition);
}

Need need_of_scrubber(Condition condition) {
  switch (condition) {
  case Condition::carbon_dioxide_measured:
  case Condition::started_by_person:
  case Condition::not_tripped: return Need::always;
  case Condition::over_pressure_measured:
  case Condition::over_pressure_within:
  case Condition::relief_free: return Need::if_fitted;
  default: return Need::none;
  }
}

} // namespace

std::span<const Condition> all_conditions() { return in_order; }
std::string_view name_of(Condition condition) { return condition_table[index_of(condition)].name; }
std::string_view words_of(Condition condition) { return condition_table[index_of(condition)].words; }

std::optional<Condition> condition_named(std::string_view name) {
  const auto* const found = std::find_if(condition_table.begin(), condition_table.end(),
                                         [&](const ConditionFacts& one) { return one.name == name; });
  return found == condition_table.end() ? std::nullopt : std::optional{found->condition};
}

Need need_of(Duty duty, Condition condition) {
  switch (duty) {
  case Duty::nitrogen_purge: return need_of_purge(condition);
  case Duty::carbon_dioxide_dosing: return need_of_carbon_dioxide(condition);
  case Duty::ethylene_dosing: return need_of_ethylene(condition);
  case Duty::scrubbing: return need_of_scrubber(condition);
  case Duty::heating: // a heater in standing air burns what is near it
    return condition == Condition::air_circulates ? Need::if_fitted : Need::none;
  case Duty::fresh_air:
  case Duty::ventilation: // nothing may keep a room from being aired
  case Duty::circulation:
  case Duty::cooling:
  case Duty::humidifying:
  case Duty::drying: return Need::none;
  }
  return Need::always;
}

std::vector<Block> blocks(Duty duty, std::span<const Condition> asked_for, const Facts& facts) {
  std::vector<Block> found;
  for (const Condition condition : in_order) {
    const bool asked = std::find(asked_for.begin(), asked_for.end(), condition) != asked_for.end();
    const Need need = asked ? Need::always : need_of(duty, condition);
    const Truth truth = facts[condition];
    if (need == Need::none || truth == Truth::holds) continue;
    if (truth == Truth::not_fitted && need == Need::if_fitted) continue;
    found.push_back({condition, truth, facts.why[index_of(condition)]});
  }
  return found;
}

bool trips(Duty duty) { return facts_of(duty).gas || duty == Duty::scrubbing; }

bool trips(Duty duty, Condition condition) {
  if (!trips(duty)) return false;
  switch (condition) {
  case Condition::started_by_person:
  case Condition::not_tripped: return false; // what a trip leaves behind
  case Condition::lights_on:
  case Condition::vents_closed:
  case Condition::air_circulates:
  case Condition::carbon_dioxide_below_ceiling: return false; // come and go with the day, the loop and the weather
  case Condition::door_closed:
  case Condition::nobody_in: // people come and go in a bay that is dosed; a sealed store is not entered by the way
    return duty == Duty::nitrogen_purge || duty == Duty::scrubbing;
  case Condition::carbon_dioxide_measured:
  case Condition::oxygen_measured: return duty == Duty::nitrogen_purge || duty == Duty::scrubbing;
  default: return true;
  }
}

} // namespace oxherd::control
