#include "daemon/control_payload.hpp"

#include "daemon/json_text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

std::string said(const std::optional<SaidOfActuator>& what) {
  if (!what) return "null";
  JsonObject object;
  object.text("by", what->by).text("because", what->because).text("since", rfc3339(what->since));
  object.json("until", what->until ? json_string(rfc3339(*what->until)) : "null");
  return object.str();
}

std::string proposal_object(const TuningProposal& proposal) {
  return JsonObject{}
      .text("rule", proposal.rule)
      .text("words", proposal.words)
      .flag("by_default", proposal.by_default)
      .number("proportional_band", proposal.proportional_band)
      .number("integral_time_s", proposal.integral_time_s)
      .number("derivative_time_s", proposal.derivative_time_s)
      .text("settings", proposal.settings)
      .str();
}

std::string ultimate_object(const std::optional<UltimateStatus>& found) {
  if (!found) return "null";
  return JsonObject{}
      .number("gain", found->gain)
      .number("period_s", found->period_s)
      .number("swing", found->swing)
      .number("on_share", found->on_share)
      .number("output_mean", found->output_mean)
      .flag("lopsided", found->lopsided)
      .str();
}

std::string tuning_object(const std::optional<TuningStatus>& tuning) {
  if (!tuning) return "null";
  std::vector<std::string> proposals;
  for (const auto& proposal : tuning->proposals) proposals.push_back(proposal_object(proposal));
  return JsonObject{}
      .flag("running", tuning->running)
      .text("by", tuning->by)
      .text("because", tuning->because)
      .text("since", rfc3339(tuning->since))
      .json("ended", tuning->ended ? json_string(rfc3339(*tuning->ended)) : "null")
      .text("outcome", tuning->outcome)
      .integer("swings", tuning->swings)
      .number("low", tuning->low)
      .number("high", tuning->high)
      .number("set_point", tuning->set_point)
      .number("hysteresis", tuning->hysteresis)
      .number("output_low", tuning->output_low)
      .number("output_high", tuning->output_high)
      .number("longest_s", tuning->longest_s)
      .json("ultimate", ultimate_object(tuning->ultimate))
      .json("proposals", json_array(proposals))
      .str();
}

std::string step_object(const std::optional<control::StepFigures>& step) {
  if (!step) return "null";
  return JsonObject{}
      .number("size", step->size)
      .number("rise_s", step->rise_s)
      .number("overshoot", step->overshoot)
      .number("settling_s", step->settling_s)
      .flag("under_way", step->under_way)
      .str();
}

std::string report_object(const std::optional<LoopReportStatus>& report) {
  if (!report) return "null";
  const auto& figures = report->figures;
  const auto& swings = figures.oscillation;
  return JsonObject{}
      .text("since", rfc3339(report->since))
      .text("by", report->by)
      .number("band", report->band)
      .number("observed_s", figures.observed_s)
      .number("gaps_s", figures.gaps_s)
      .number("judged_s", figures.judged_s)
      .number("automatic_share", figures.automatic_share)
      .number("error_mean", figures.error_mean)
      .number("error_sd", figures.error_sd)
      .number("within_band_share", figures.within_band_share)
      .number("switchings_per_h", figures.switchings_per_h)
      .number("limit_share", figures.limit_share)
      .json("step", step_object(figures.step))
      .flag("oscillating", swings.oscillating)
      .number("oscillation_period_s", swings.period_s)
      .number("oscillation_amplitude", swings.amplitude)
      .number("idle_index", figures.idle_index)
      .str();
}

std::string loop_object(const std::optional<LoopStatus>& loop) {
  if (!loop) return "null";
  return JsonObject{}
      .text("loop", loop->name)
      .text("holds", loop->holds)
      .text("unit", loop->unit)
      .integer("decimals", loop->decimals)
      .text("method", loop->method)
      .number("value", loop->value)
      .number("set_point", loop->set_point)
      .flag("uncertain", loop->uncertain)
      .text("trouble", loop->trouble)
      .number("demand", loop->demand)
      .json("program", loop->program.empty() ? "null" : json_string(loop->program))
      .number("target", loop->target)
      .number("next_target", loop->next_target)
      .json("next_at", loop->next_at ? json_string(rfc3339(*loop->next_at)) : "null")
      .json("tuning", tuning_object(loop->tuning))
      .json("report", report_object(loop->report))
      .str();
}

} // namespace

std::string actuator_payload(const ActuatorStatus& actuator) {
  std::vector<std::string> blocks;
  for (const auto& [condition, words] : actuator.blocked_by)
    blocks.push_back(JsonObject{}.text("condition", condition).text("text", words).str());
  return JsonObject{}
      .text("output", actuator.name)
      .text("duty", actuator.duty)
      .number("fraction", actuator.output)
      .text("decided_by", actuator.decided_by)
      .text("because", actuator.because)
      .json("blocked_by", json_array(blocks))
      .json("started", said(actuator.started))
      .json("held", said(actuator.held))
      .json("tripped", said(actuator.tripped))
      .text("held_back", actuator.held_back)
      .text("forecast", actuator.forecast)
      .json("loop", loop_object(actuator.loop))
      .str();
}

std::string actuators_payload(const std::vector<ActuatorStatus>& actuators) {
  std::vector<std::string> objects;
  for (const auto& actuator : actuators) objects.push_back(actuator_payload(actuator));
  return json_array(objects);
}

} // namespace oxherd::daemon
