#include "daemon/control/control_lines.hpp"

#include <map>

namespace oxherd::daemon {
namespace {

constexpr std::string_view actuator_prefix = "actuator/", loop_prefix = "loop/";

void take(const AlarmRecord& line, ControlRemembered& to) {
  using control::ActuatorAct;
  using control::ActuatorEvent;
  const auto is = [&](auto event) { return line.event == name_of(event); };
  if (is(ActuatorEvent::tripped)) to.tripped = line.comment;
  if (is(ActuatorAct::release)) to.tripped.reset();
  if (is(ActuatorAct::start)) to.started = true;
  if (is(ActuatorAct::end) || is(ActuatorEvent::run_ended)) to.started = false;
  if (is(ActuatorAct::hold)) to.held = true;
  if (is(ActuatorAct::automatic) || is(ActuatorEvent::override_ended)) to.held = false;
}

} // namespace

std::string actuator_journal_name(const std::string& output) { return std::string{actuator_prefix} + output; }
std::string loop_journal_name(const std::string& loop) { return std::string{loop_prefix} + loop; }

AlarmRecord control_record(const std::string& room, const std::string& journal_name, const ControlCause& cause,
                           WallTime at) {
  AlarmRecord record;
  record.at = at;
  record.room = room;
  record.alarm = journal_name;
  record.event = cause.event;
  record.cause = "control";
  record.author = cause.author;
  record.comment = cause.comment;
  record.priority = alarms::Priority::low;
  record.text = cause.text;
  return record;
}

std::vector<ControlRemembered> remembered_control(const std::vector<AlarmRecord>& lines,
                                                  const config::Settings& settings) {
  std::map<std::string, ControlRemembered> by_name;
  for (const auto& line : lines)
    if (line.alarm.starts_with(actuator_prefix)) take(line, by_name[line.alarm]);
  std::vector<ControlRemembered> found;
  for (const auto& output : settings.outputs)
    if (std::holds_alternative<config::Actuator>(output.kind))
      if (const auto known = by_name.find(actuator_journal_name(output.name)); known != by_name.end()) {
        found.push_back(known->second);
        found.back().output = output.name;
      }
  return found;
}

} // namespace oxherd::daemon
