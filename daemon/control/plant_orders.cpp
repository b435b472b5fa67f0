// What persons order, and what restarts and reloads take over.
#include <fmt/core.h>

#include "daemon/control/plant_control.hpp"

namespace oxherd::daemon {
namespace {

std::string_view name_of(LoopRun::ProgramAct act) {
  switch (act) {
  case LoopRun::ProgramAct::start: return "program-start";
  case LoopRun::ProgramAct::stop: return "program-stop";
  case LoopRun::ProgramAct::hold: return "program-hold";
  case LoopRun::ProgramAct::resume: return "program-resume";
  }
  return "";
}

} // namespace

std::optional<PlantControl::Acted> PlantControl::act(const std::string& output, const control::ActuatorOrder& order,
                                                     Monotonic now, WallTime wall) {
  One* one = find(output);
  if (one == nullptr) return std::nullopt;
  auto ordered = control::order(one->settings.rules, one->state, one->facts, order, now);
  Acted acted;
  acted.refusal = ordered.refusal;
  if (ordered.refusal.empty()) one->state = std::move(ordered.state);
  const auto what = fmt::format("{} ({}) of {}", words_of(one->settings.rules.duty), output, one->settings.room);
  auto text = fmt::format("{}: {} by {}", what, words_of(order), order.by);
  if (!acted.refusal.empty())
    text = fmt::format("{}: {} was refused to {}: {}", what, words_of(order), order.by, acted.refusal);
  acted.lines.push_back(control_record(
      one->settings.room, actuator_journal_name(output),
      {fmt::format("{}{}", name_of(order.act), acted.refusal.empty() ? "" : "-refused"), order.by, order.because, text},
      wall));
  return acted;
}

std::optional<PlantControl::Acted> PlantControl::act(const std::string& room, const std::string& loop,
                                                     const ProgramOrder& order, Monotonic now, WallTime wall) {
  for (One& one : all_) {
    if (!one.loop || one.settings.room != room || one.loop->settings().name != loop) continue;
    Acted acted;
    if (!one.loop->act(order.act, order.duration, now))
      acted.refusal = fmt::format("loop {} of {} has no program for which that can be done now", loop, room);
    acted.lines.push_back(control_record(
        room, loop_journal_name(loop),
        {fmt::format("{}{}", name_of(order.act), acted.refusal.empty() ? "" : "-refused"), order.by, order.because,
         fmt::format("loop {} of {}: {} by {}{}", loop, room, name_of(order.act), order.by,
                     acted.refusal.empty() ? "" : ", refused: " + acted.refusal)},
        wall));
    return acted;
  }
  return std::nullopt;
}

AlarmRecord PlantControl::ended_record(const One& one, control::ActuatorEvent event, std::string_view because,
                                       WallTime wall) const {
  return control_record(one.settings.room, actuator_journal_name(one.name),
                        {std::string{control::name_of(event)},
                         {},
                         std::string{because},
                         fmt::format("{} ({}) of {}: {}, because {}", words_of(one.settings.rules.duty), one.name,
                                     one.settings.room, words_of(event), because)},
                        wall);
}

std::vector<AlarmRecord> PlantControl::restore(const std::vector<ControlRemembered>& remembered, Monotonic now,
                                               WallTime wall) {
  constexpr std::string_view because = "the daemon was restarted, and starts nothing by itself";
  std::vector<AlarmRecord> lines;
  for (const auto& one_before : remembered) {
    One* one = find(one_before.output);
    if (one == nullptr) continue;
    if (one_before.tripped && control::trips(one->settings.rules.duty))
      one->state.trip = control::Trip{now, *one_before.tripped};
    if (one_before.started) lines.push_back(ended_record(*one, control::ActuatorEvent::run_ended, because, wall));
    if (one_before.held) lines.push_back(ended_record(*one, control::ActuatorEvent::override_ended, because, wall));
  }
  return lines;
}

std::vector<KeptProgram> PlantControl::kept_programs() const {
  std::vector<KeptProgram> kept;
  for (const One& one : all_)
    if (one.loop && (one.loop->program_state().run || one.loop->program_state().hold))
      kept.push_back({one.settings.room, one.loop->settings().name, one.loop->program_state()});
  return kept;
}

void PlantControl::restore(ReadPrograms read, Monotonic now) {
  for (auto& kept : read.programs)
    for (One& one : all_)
      if (one.loop && one.settings.room == kept.room && one.loop->settings().name == kept.loop)
        one.loop->restore(std::move(kept.state), read.outage, now);
}

std::vector<AlarmRecord> PlantControl::continue_from(const PlantControl& before, WallTime wall) {
  constexpr std::string_view because = "its settings changed";
  std::vector<AlarmRecord> lines;
  for (One& one : all_)
    for (const One& old : before.all_) {
      if (old.name != one.name || old.settings.room != one.settings.room) continue;
      one.confirmed = old.confirmed;
      one.ever_confirmed = old.ever_confirmed;
      one.state.trip = old.state.trip;
      if (one.loop && old.loop) one.loop->continue_from(*old.loop);
      const bool same = old.settings.rules == one.settings.rules && old.settings.at == one.settings.at &&
                        old.settings.works_energised == one.settings.works_energised &&
                        old.settings.supply == one.settings.supply && old.settings.ceiling == one.settings.ceiling;
      if (!same) {
        if (old.state.run) lines.push_back(ended_record(one, control::ActuatorEvent::run_ended, because, wall));
        if (old.state.override_)
          lines.push_back(ended_record(one, control::ActuatorEvent::override_ended, because, wall));
        continue;
      }
      one.state = old.state;
      one.facts = old.facts;
      one.switching = old.switching;
      one.want = old.want;
      one.driven = old.driven;
      one.purge = old.purge;
    }
  return lines;
}

} // namespace oxherd::daemon
