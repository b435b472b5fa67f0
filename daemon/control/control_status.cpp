#include "daemon/control/control_status.hpp"

#include <fmt/core.h>

namespace oxherd::daemon {
namespace {

struct Clock {
  Monotonic now;
  WallTime wall;
  [[nodiscard]] WallTime at(Monotonic time) const { return wall + (time - now); }
};

std::vector<TuningProposal> proposals_of(const control::Ultimate& found, control::ProcessValue holds) {
  std::vector<TuningProposal> proposals;
  for (const auto rule : control::all_tuning_rules) {
    const auto proposal = control::proposal_of(rule, found);
    proposals.push_back({name_of(rule), words_of(rule), rule == control::tuning_by_default,
                         shown_unit_of(holds).scale / proposal.gain, proposal.integral_time_s,
                         proposal.derivative_time_s, settings_text(proposal, holds)});
  }
  return proposals;
}

TuningStatus tuning_status(const LoopTuning& tuning, control::ProcessValue holds, const Clock& clock) {
  const auto unit = shown_unit_of(holds);
  const auto shown = [&](double si) { return (si - unit.offset) * unit.scale; };
  const auto& rule = tuning.rule;
  TuningStatus status;
  status.running = tuning.running();
  status.by = tuning.by;
  status.because = tuning.because;
  status.since = clock.at(tuning.since);
  if (tuning.ended) status.ended = clock.at(*tuning.ended);
  status.outcome = tuning.running() ? std::string{control::words_of(tuning.state.phase)} : tuning.outcome;
  status.swings = tuning.state.periods;
  status.low = shown(rule.value_low);
  status.high = shown(rule.value_high);
  status.set_point = shown(rule.set_point);
  status.hysteresis = rule.hysteresis * unit.scale;
  status.output_low = rule.output_low;
  status.output_high = rule.output_high;
  status.longest_s = alarms::seconds_of(rule.longest);
  if (const auto found = control::ultimate_of(rule, tuning.state)) {
    status.ultimate = UltimateStatus{found->gain / unit.scale, found->period_s,    found->swing * unit.scale,
                                     found->on_share,          found->output_mean, found->is_lopsided()};
    status.proposals = proposals_of(*found, holds);
  }
  return status;
}

LoopReportStatus report_status(const LoopPerformance& performance, control::ProcessValue holds, const Clock& clock) {
  const double scale = shown_unit_of(holds).scale;
  LoopReportStatus status; // filled one by one: g++ 12 fails on the whole of it in an optimised unity build
  status.since = clock.at(*performance.since());
  status.by = performance.by();
  status.band = performance.band() * scale;
  status.figures = performance.report();
  auto& figures = status.figures;
  for (auto* one : {&figures.error_mean, &figures.error_sd, &figures.absolute_error, &figures.late_absolute_error,
                    &figures.oscillation.amplitude})
    if (*one) **one *= scale;
  if (figures.step) figures.step->size *= scale;
  return status;
}

LoopStatus loop_status(const LoopRun& loop, const Clock& clock) {
  const auto& settings = loop.settings();
  const auto unit = shown_unit_of(settings.holds);
  const auto shown = [&](double si) { return (si - unit.offset) * unit.scale; };
  LoopStatus status;
  status.name = settings.name;
  status.holds = name_of(settings.holds);
  status.unit = unit.symbol;
  status.method = config::name_of(settings.method);
  status.decimals = unit.decimals;
  if (loop.reading().value) status.value = shown(*loop.reading().value);
  if (loop.set_point()) status.set_point = shown(*loop.set_point());
  status.uncertain = loop.reading().uncertain;
  status.trouble = loop.reading().trouble;
  status.demand = loop.demand();
  if (loop.performance().since()) status.report = report_status(loop.performance(), settings.holds, clock);
  if (loop.tuning()) status.tuning = tuning_status(*loop.tuning(), settings.holds, clock);
  if (!settings.program) return status;
  const auto& program = loop.program();
  status.program = name_of(program.phase);
  if (!program.set_point) return status;
  status.target = shown(program.set_point->target);
  if (const auto& next = program.set_point->next) {
    status.next_target = shown(next->target);
    status.next_at = clock.at(clock.now + next->in);
  }
  return status;
}

} // namespace

std::string_view name_of(control::ProgramPhase phase) {
  switch (phase) {
  case control::ProgramPhase::waiting: return "waiting";
  case control::ProgramPhase::following: return "following";
  case control::ProgramPhase::held: return "held";
  case control::ProgramPhase::finished: return "finished";
  case control::ProgramPhase::stopped: return "stopped";
  case control::ProgramPhase::stopped_by_outage: return "stopped-by-outage";
  }
  return "";
}

std::vector<ActuatorStatus> actuator_statuses(const std::vector<ActuatorView>& views, Monotonic now, WallTime wall) {
  const Clock clock{now, wall};
  std::vector<ActuatorStatus> all;
  for (const auto& view : views) {
    const auto& state = *view.state;
    ActuatorStatus status;
    status.name = view.name;
    status.duty = name_of(view.duty);
    status.decided_by = name_of(state.by);
    status.output = view.driven;
    status.because = state.because;
    for (const auto& block : state.blocks)
      status.blocked_by.emplace_back(name_of(block.condition), control::sentence_of({block}));
    if (state.run) status.started = SaidOfActuator{state.run->by, state.run->because, clock.at(state.run->since)};
    if (const auto& held = state.override_)
      status.held = SaidOfActuator{held->by, held->because, clock.at(held->since), clock.at(held->until)};
    if (state.trip) status.tripped = SaidOfActuator{{}, state.trip->because, clock.at(state.trip->since)};
    if (view.held_back) {
      status.held_back = control::words_of(view.held_back->why);
      if (view.held_back->until)
        status.held_back += fmt::format(", {:.0f} s more", alarms::seconds_of(*view.held_back->until - now));
    }
    status.forecast = view.forecast;
    if (view.loop != nullptr) status.loop = loop_status(*view.loop, clock);
    all.push_back(std::move(status));
  }
  return all;
}

} // namespace oxherd::daemon
