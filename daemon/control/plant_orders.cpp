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

/// The last experiment of a loop is over.
AlarmRecord tuning_over_record(const std::string& room, const config::Loop& loop, const LoopTuning& tuning,
                               std::string_view because, WallTime wall) {
  const auto found = found_text(tuning, loop.holds);
  return control_record(room, loop_journal_name(loop.name),
                        {found.empty() ? "tuning-ended" : "tuning-finished",
                         {},
                         std::string{because},
                         fmt::format("loop {} of {}: the tuning experiment begun by {} is over: {}{}{}", loop.name,
                                     room, tuning.by, because, found.empty() ? "" : "; ", found)},
                        wall);
}

/// The nominative of who decides, for "... decides what the actuator does".
std::string_view words_of(control::Decider decider) {
  switch (decider) {
  case control::Decider::interlock: return "an interlock";
  case control::Decider::safe_state: return "the safe state";
  case control::Decider::person: return "a person";
  case control::Decider::loop: return "the loop";
  case control::Decider::rest: return "nothing";
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

PlantControl::LoopActed PlantControl::act(One& one, const ProgramOrder& order, Monotonic now) {
  LoopActed acted{std::string{name_of(order.act)}, {}};
  if (!one.loop->act(order.act, order.duration, now))
    acted.refusal = fmt::format("loop {} of {} has no program for which that can be done now",
                                one.loop->settings().name, one.settings.room);
  return acted;
}

PlantControl::LoopActed PlantControl::act(One& one, const TuningOrder& order, Monotonic now) {
  auto& loop = *one.loop;
  if (order.act == TuningOrder::Act::end) {
    LoopActed acted{"end-tuning", loop.is_tuned() ? "" : "no tuning experiment is running"};
    if (loop.is_tuned()) acted.told = fmt::format(", the experiment begun by {}", loop.tuning()->by);
    loop.end_tuning(fmt::format("{} ended it", order.by), now);
    return acted;
  }
  LoopActed acted{"tune", never_tuned(one.settings.rules.duty)};
  // What blocks an actuator that is off anyway would end the experiment at the first rise of its relay.
  if (acted.refusal.empty() && !one.state.blocks.empty())
    acted.refusal = fmt::format("{} is blocked: {}", words_of(one.settings.rules.duty), sentence_of(one.state.blocks));
  if (acted.refusal.empty() &&
      (one.state.by == control::Decider::person || one.state.by == control::Decider::interlock))
    acted.refusal = fmt::format("{} decides what {} does ({}): wait until its loop does, or give it back first",
                                words_of(one.state.by), words_of(one.settings.rules.duty), one.state.because);
  if (acted.refusal.empty()) acted.refusal = loop.begin_tuning(order, now);
  if (acted.refusal.empty()) acted.told = ", " + words_of(*loop.tuning(), loop.settings().holds);
  return acted;
}

PlantControl::LoopActed PlantControl::act(One& one, const ReportOrder& order, Monotonic now) {
  one.loop->begin_report(order.by, now);
  return {"begin-report", {}};
}

void PlantControl::watch_tuning(One& one, Monotonic now, WallTime wall, Result& result) {
  auto& loop = *one.loop;
  if (one.state.by != control::Decider::loop)
    loop.end_tuning(fmt::format("{} decides what the actuator does: {}", words_of(one.state.by), one.state.because),
                    now);
  if (one.confirmed == false) loop.end_tuning("the actuator's device does not hold what it was told", now);
  if (loop.is_tuned()) return;
  result.changed = true;
  result.lines.push_back(
      tuning_over_record(one.settings.room, loop.settings(), *loop.tuning(), loop.tuning()->outcome, wall));
}

std::optional<PlantControl::Acted> PlantControl::act(const std::string& room, const std::string& loop,
                                                     const LoopOrder& order, Monotonic now, WallTime wall) {
  for (One& one : all_) {
    if (!one.loop || one.settings.room != room || one.loop->settings().name != loop) continue;
    const auto done = std::visit([&](const auto& asked) { return act(one, asked, now); }, order);
    const auto& [by, because] = std::visit([](const auto& asked) { return std::pair{asked.by, asked.because}; }, order);
    const bool refused = !done.refusal.empty();
    Acted acted;
    acted.refusal = done.refusal;
    acted.lines.push_back(
        control_record(room, loop_journal_name(loop),
                       {fmt::format("{}{}", done.name, refused ? "-refused" : ""), by, because,
                        fmt::format("loop {} of {}: {} by {}{}{}", loop, room, done.name, by,
                                    refused ? ", refused: " + done.refusal : std::string{}, done.told)},
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

std::vector<AlarmRecord> PlantControl::continue_from(const PlantControl& before, Monotonic now, WallTime wall) {
  constexpr std::string_view because = "its settings changed";
  std::vector<AlarmRecord> lines;
  for (const One& old : before.all_)
    if (old.loop && old.loop->is_tuned())
      lines.push_back(tuning_over_record(old.settings.room, old.loop->settings(), *old.loop->tuning(),
                                         "the settings were loaded anew", wall));
  for (One& one : all_)
    for (const One& old : before.all_) {
      if (old.name != one.name || old.settings.room != one.settings.room) continue;
      one.confirmed = old.confirmed;
      one.ever_confirmed = old.ever_confirmed;
      one.state.trip = old.state.trip;
      if (one.loop && old.loop) one.loop->continue_from(*old.loop, now);
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
