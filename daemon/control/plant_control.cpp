#include "daemon/control/plant_control.hpp"

#include <algorithm>
#include <utility>

#include <fmt/core.h>

#include "alarms/rules/standing_value.hpp"

namespace oxherd::daemon {
namespace {

using control::Condition;
using control::Decider;
using control::Duty;
using control::Facts;
using control::Truth;

/// Others look at what these do: they are decided first.
int rank_of(Duty duty) { return control::facts_of(duty).airs ? 0 : duty == Duty::circulation ? 1 : 2; }

control::Switching switching_of(const config::Actuator& actuator) {
  // A purge that reaches its longest run trips; a dosing pulse only pauses to mix.
  auto times = actuator.rules.times;
  if (actuator.rules.duty == Duty::nitrogen_purge) times.on_most.reset();
  return {times, control::AfterMost::rests};
}

std::size_t room_index(const config::Settings& settings, const std::string& name) {
  for (std::size_t r = 0; r < settings.rooms.size(); ++r)
    if (settings.rooms[r].name == name) return r;
  return settings.rooms.size();
}

} // namespace

PlantControl::PlantControl(const config::Settings& settings, Monotonic now) {
  by_room_.resize(settings.rooms.size());
  for (const auto& output : settings.outputs) {
    const auto* actuator = std::get_if<config::Actuator>(&output.kind);
    const auto room = actuator != nullptr ? room_index(settings, actuator->room) : settings.rooms.size();
    if (room == settings.rooms.size()) continue;
    One one{output.name, room, *actuator};
    one.switching.since = now; // nobody knows what it did before
    one.driven =
        control::output_of(actuator->rules.safe, settings.rooms[room].regime != config::Regime::sealed_low_oxygen);
    one.switching.on = one.driven > 0.0;
    for (const auto& loop : settings.rooms[room].loops)
      if (loop.output == output.name) one.loop = LoopRun{loop, config::locality_of(settings.site)};
    all_.push_back(std::move(one));
  }
  std::stable_sort(all_.begin(), all_.end(), [](const One& a, const One& b) {
    return rank_of(a.settings.rules.duty) < rank_of(b.settings.rules.duty);
  });
  for (std::size_t i = 0; i < all_.size(); ++i) {
    by_name_[all_[i].name] = i;
    by_room_[all_[i].room].push_back(i);
    if (!all_[i].settings.group.empty()) groups_[all_[i].settings.group].push_back(i);
  }
}

PlantControl::One* PlantControl::find(const std::string& output) {
  const auto found = by_name_.find(output);
  return found == by_name_.end() ? nullptr : &all_[found->second];
}

void PlantControl::add_own_facts(One& one, const ControlView& view, Monotonic now, Facts& facts) {
  const auto& rules = one.settings.rules;
  const bool lost = one.confirmed == false;
  facts.set(Condition::device_holds,
            lost || !one.ever_confirmed ? (lost ? Truth::fails : Truth::unknown) : Truth::holds,
            lost ? "its device does not hold what it was told" : "its device has not confirmed anything yet");
  bool any_vent = false, aired = false, mixes = false, any_fan = false;
  for (const std::size_t i : by_room_[one.room]) {
    const One& other = all_[i];
    const bool at_work = other.driven > 0.0 || other.state.output > 0.0;
    if (control::facts_of(other.settings.rules.duty).airs) {
      any_vent = true;
      aired = aired || at_work || other.confirmed == false;
    }
    if (other.settings.rules.duty == Duty::circulation) {
      any_fan = true;
      mixes = mixes || (other.driven > 0.0 && other.confirmed != false && other.ever_confirmed);
    }
  }
  if (any_vent)
    facts.set(Condition::vents_closed, aired ? Truth::fails : Truth::holds,
              "the room is being aired, or a vent is lost");
  if (any_fan && facts[Condition::air_circulates] == Truth::not_fitted)
    facts.set(Condition::air_circulates, mixes ? Truth::holds : Truth::fails, "no fan mixes the air");
  if (rules.duty == Duty::carbon_dioxide_dosing) {
    const auto standing = alarms::standing_value(view.watched.carbon_dioxide, alarms::Direction::high);
    const bool below = standing && standing->value + standing->expanded < one.settings.ceiling;
    facts.set(Condition::carbon_dioxide_below_ceiling,
              !standing ? Truth::unknown
              : below   ? Truth::holds
                        : Truth::fails,
              standing ? fmt::format("carbon dioxide may be {:.0f} ppm, and no more is dosed from {:.0f} ppm on",
                                     (standing->value + standing->expanded) * 1e6, one.settings.ceiling * 1e6)
                       : "carbon dioxide is not known");
  }
  if (one.settings.supply) {
    auto found = one.purge.look(view.room, *one.settings.supply, view.watched, one.driven > 0.0, now);
    one.forecast = found.words;
    facts.set(Condition::oxygen_falls, found.truth, std::move(found.words));
  }
}

void PlantControl::decide(One& one, const Facts& of_room, const ControlView& view, const ProcessValues& values,
                          Monotonic now, WallTime wall, Result& result) {
  one.facts = of_room;
  add_own_facts(one, view, now, one.facts);
  std::optional<control::Wish> wish;
  const bool was_tuned = one.loop && one.loop->is_tuned();
  if (one.loop) {
    LoopInput in{values(one.loop->settings().holds), of_room[Condition::lights_on], {}, false};
    if (one.state.by == Decider::person) in.decided_by_others = one.driven;
    in.stands_by = one.state.by == Decider::interlock || one.state.by == Decider::safe_state;
    wish = one.loop->evaluate(in, now, wall);
  }
  const auto before = std::pair{one.state.by, one.state.output};
  const control::Situation situation{view.watched.monitored, view.safety_alarm,
                                     alarms::people_may_be_in(view.watched.presence)};
  auto step = control::next(one.settings.rules, std::move(one.state), situation, one.facts, wish, now);
  one.state = std::move(step.state);
  one.want = {one.state.output > 0.5, step.urgent};
  if (was_tuned) watch_tuning(one, now, wall, result);
  result.changed = result.changed || before != std::pair{one.state.by, one.state.output};
  for (const auto& news : step.news)
    result.lines.push_back(control_record(
        one.settings.room, actuator_journal_name(one.name),
        {std::string{name_of(news.event)},
         {},
         news.because,
         fmt::format("{} of {}: {}, because {}", words_of(one.settings.rules.duty), one.settings.room,
                     words_of(news.event), news.because.empty() ? "nothing speaks against it any more" : news.because)},
        wall));
}

void PlantControl::take_switching(One& one, const control::SwitchingStep& step, Monotonic now, Result& result) {
  one.switching = step.state;
  one.held_back = step.hold;
  const double driven = one.settings.at.is_coil ? (step.state.on ? 1.0 : 0.0) : one.state.output;
  result.changed = result.changed || driven != one.driven;
  one.driven = driven;
  if (driven == 0.0) one.state.on_since.reset();
  if (driven > 0.0 && !one.state.on_since) one.state.on_since = now;
}

void PlantControl::switch_all(std::size_t room, Monotonic now, Result& result) {
  for (const std::size_t i : by_room_[room]) {
    One& one = all_[i];
    if (one.settings.group.empty())
      take_switching(one, control::next(switching_of(one.settings), one.switching, one.want, now), now, result);
  }
  for (const auto& [group, places] : groups_) {
    const bool concerns = std::any_of(places.begin(), places.end(), [&](auto i) { return all_[i].room == room; });
    if (!concerns) continue;
    std::vector<control::Member> members;
    for (const std::size_t i : places)
      members.push_back({switching_of(all_[i].settings), all_[i].switching, all_[i].want});
    auto step = control::next(control::Stagger{}, std::move(staggers_[group]), members, now);
    staggers_[group] = std::move(step.state);
    for (std::size_t m = 0; m < places.size(); ++m) take_switching(all_[places[m]], step.members[m], now, result);
  }
}

PlantControl::Result PlantControl::evaluate(std::size_t room, const ControlView& view, const ProcessValues& values,
                                            Monotonic now, WallTime wall) {
  Result result;
  const auto of_room = facts_of_room(view, now);
  for (const std::size_t i : by_room_[room]) decide(all_[i], of_room, view, values, now, wall, result);
  switch_all(room, now, result);
  for (const std::size_t i : by_room_[room])
    if (One& one = all_[i]; one.loop) one.loop->see(one.state.by == Decider::loop, one.driven, now);
  return result;
}

double PlantControl::driven(const std::string& output) const {
  const auto found = by_name_.find(output);
  return found == by_name_.end() ? 0.0 : all_[found->second].driven;
}

std::string PlantControl::trouble(std::size_t room) const {
  std::string words;
  const auto add = [&](const std::string& what) { words += (words.empty() ? "" : "; ") + what; };
  for (const std::size_t i : by_room_[room]) {
    const One& one = all_[i];
    if (one.state.trip)
      add(fmt::format("{} ({}) was stopped: {}", words_of(one.settings.rules.duty), one.name, one.state.trip->because));
    if (one.loop && one.loop->program().phase == control::ProgramPhase::stopped_by_outage)
      add(fmt::format(
          "the program of loop {} stands still after an outage: a person has to look and resume or start it",
          one.loop->settings().name));
  }
  return words;
}

std::vector<ActuatorView> PlantControl::view(std::size_t room) const {
  std::vector<ActuatorView> views;
  for (const std::size_t i : by_room_[room]) {
    const One& one = all_[i];
    views.push_back({one.name, one.settings.room, one.settings.rules.duty, &one.state, one.driven, one.held_back,
                     one.forecast, one.loop ? &*one.loop : nullptr});
  }
  return views;
}

void PlantControl::set_confirmed(const std::string& output, std::optional<bool> confirmed) {
  if (One* one = find(output)) {
    one->confirmed = confirmed;
    one->ever_confirmed = one->ever_confirmed || confirmed == true;
  }
}

} // namespace oxherd::daemon
