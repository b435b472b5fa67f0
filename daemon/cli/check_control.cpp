#include "daemon/cli/check_control.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/control/process_value.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using control::Condition;
using control::Need;

std::string_view rest_text(control::SafeState safe) {
  switch (safe) {
  case control::SafeState::off: return "off";
  case control::SafeState::on: return "on";
  case control::SafeState::on_for_people: return "on where people may be";
  }
  return "";
}

std::string times_text(const control::SwitchingTimes& times) {
  auto text = fmt::format("{} on, {} off", duration_text(alarms::seconds_of(times.on_least)),
                          duration_text(alarms::seconds_of(times.off_least)));
  if (times.on_most) text += fmt::format(", {} at most", duration_text(alarms::seconds_of(*times.on_most)));
  if (times.starts_per_hour) text += fmt::format(", {} starts an hour", *times.starts_per_hour);
  return text;
}

const config::Loop* loop_of(const config::Room& room, const std::string& output) {
  const auto found =
      std::find_if(room.loops.begin(), room.loops.end(), [&](const auto& loop) { return loop.output == output; });
  return found == room.loops.end() ? nullptr : &*found;
}

std::string loop_text(const config::Loop* loop) {
  if (loop == nullptr) return "by hand alone";
  const auto at =
      loop->set_point ? "at " + daemon::text_of(loop->holds, *loop->set_point) : std::string{"by its program"};
  return fmt::format("{} {}, {}", name_of(loop->holds), at, config::name_of(loop->method));
}

struct Needed {
  Condition condition;
  bool always = false;
};
std::vector<Needed> needs_of(const control::ActuatorRules& rules) {
  std::vector<Needed> all;
  for (const Condition condition : control::all_conditions()) {
    const bool asked = std::find(rules.asked_for.begin(), rules.asked_for.end(), condition) != rules.asked_for.end();
    const Need need = need_of(rules.duty, condition);
    if (asked || need != Need::none) all.push_back({condition, asked || need == Need::always});
  }
  return all;
}

std::string needs_text(const control::ActuatorRules& rules) {
  if (control::facts_of(rules.duty).airs)
    return "    on by every safety alarm, and while the room is not monitored, where people may be\n";
  std::string always, if_fitted;
  for (const auto& need : needs_of(rules)) {
    auto& list = need.always ? always : if_fitted;
    list += fmt::format("{}{}", list.empty() ? "" : ", ", name_of(need.condition));
  }
  std::string text;
  if (!always.empty()) text += wrapped("works only while: " + always, 100, 4) + '\n';
  if (!if_fitted.empty()) text += wrapped("and where the room has a sensor for it: " + if_fitted, 100, 4) + '\n';
  return text;
}

template <class Each> void for_actuators(const config::Settings& settings, const config::Room& room, Each each) {
  for (const auto& output : settings.outputs)
    if (const auto* actuator = std::get_if<config::Actuator>(&output.kind);
        actuator != nullptr && actuator->room == room.name)
      each(output, *actuator);
}

} // namespace

std::string control_summary_text(const config::Settings& settings, const config::Room& room) {
  std::string text;
  for_actuators(settings, room, [&](const config::Output& output, const config::Actuator& actuator) {
    const auto& rules = actuator.rules;
    text += fmt::format("  actuator {} ({}): {}; at rest {}; {}\n", output.name, name_of(rules.duty),
                        loop_text(loop_of(room, output.name)), rest_text(rules.safe),
                        actuator.at.is_coil ? times_text(rules.times) : std::string{"any output"});
    text += needs_text(rules);
  });
  return text;
}

std::string control_summary_json(const config::Settings& settings, const config::Room& room) {
  std::vector<std::string> all;
  for_actuators(settings, room, [&](const config::Output& output, const config::Actuator& actuator) {
    std::vector<std::string> always, if_fitted;
    for (const auto& need : needs_of(actuator.rules))
      (need.always ? always : if_fitted).push_back(json_string(name_of(need.condition)));
    const auto* loop = loop_of(room, output.name);
    all.push_back(JsonObject{}
                      .text("output", output.name)
                      .text("duty", name_of(actuator.rules.duty))
                      .text("at_rest", rest_text(actuator.rules.safe))
                      .json("loop", loop == nullptr ? "null" : json_string(loop->name))
                      .json("needs", json_array(always))
                      .json("needs_where_fitted", json_array(if_fitted))
                      .str());
  });
  return json_array(all);
}

} // namespace oxherd::daemon::cli
