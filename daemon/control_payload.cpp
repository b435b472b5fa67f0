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
