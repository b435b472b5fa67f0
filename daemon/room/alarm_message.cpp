#include "daemon/room/alarm_message.hpp"

#include "alarms/texts.hpp"
#include "daemon/room/condition_message.hpp"
#include "daemon/room/persons_unit.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Channel;
using alarms::State;

/// What stands for as long as nobody is warned; empty when the alarm is not suppressed.
std::string suppression_message(const RoomAlarm& alarm, alarms::MessageFields f) {
  const auto say = [&](const Suppressor& who, const std::optional<WallTime>& until, std::string_view how) {
    f.by = who.by.empty() ? "someone unknown" : who.by;
    f.reason = who.reason.empty() ? "no reason recorded" : who.reason;
    f.until = until ? rfc3339_local(*until) : "an unknown time";
    return alarms::suppressed_text(f, how);
  };
  switch (alarms::shown(alarm.state.standing)) {
  case State::out_of_service: return say(alarm.out_of_service, alarm.out_of_service_until, "out of service");
  case State::shelved: return say(alarm.shelved, alarm.shelved_until, "shelved");
  case State::suppressed_by_design: return alarms::suppressed_by_design_text(f);
  default: return {};
  }
}

} // namespace

std::string alarm_message(const config::Site& site, const config::Room& room, const config::AlarmSettings& settings,
                          const RoomAlarm& alarm, const std::optional<Channel>& value, bool in_force,
                          const std::string& reason) {
  const State shown = alarms::shown(alarm.state.standing);
  alarms::MessageFields f;
  f.site = site.name;
  f.room = room.name;
  f.alarm = settings.name;
  f.since = rfc3339_local(alarm.raised);
  f.emergency = site.emergency;
  f.reason = reason;
  if (auto text = suppression_message(alarm, f); !text.empty()) return text;
  if (!in_force && !alarm.state.standing.present && shown != State::normal && !alarm.state.simulated)
    return alarms::out_of_force_text(f);
  if (alarm.state.simulated || alarm.state.test) {
    f.by = alarm.tester;
    return alarms::alarm_test_text(f);
  }
  if (shown == State::normal) return {};
  if (alarm.state.standing.present) return condition_message(settings, value, std::move(f));
  f.since = rfc3339_local(alarm.returned);
  if (std::holds_alternative<alarms::NotMonitored>(settings.alarm.rule)) return alarms::monitored_again_text(f);
  if (std::holds_alternative<alarms::Degraded>(settings.alarm.rule)) return alarms::votes_again_text(f);
  if (std::holds_alternative<alarms::OutputLost>(settings.alarm.rule)) return alarms::outputs_again_text(f);
  if (std::holds_alternative<alarms::ControlTripped>(settings.alarm.rule)) return alarms::control_released_text(f);
  auto unit = persons_unit(settings);
  f.unit = unit.name;
  unit.named = false; // the text has it
  f.value = value ? in_persons_unit(unit, value->value) : "unknown";
  return alarms::returned_text(f);
}

} // namespace oxherd::daemon
