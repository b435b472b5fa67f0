// What a site does with its actuators and loops.
#include <algorithm>

#include "daemon/control/process_value.hpp"
#include "daemon/room/site.hpp"

namespace oxherd::daemon {

void Site::add_lines(std::vector<AlarmRecord> lines, Outcome& outcome) {
  for (auto& line : lines) {
    for (std::size_t r = 0; r < settings_->rooms.size(); ++r)
      if (settings_->rooms[r].name == line.room) outcome.rooms_changed.push_back(r);
    outcome.room_events.push_back(numbered(std::move(line)));
  }
}

void Site::evaluate_control(std::size_t room, Monotonic now, WallTime wall, Outcome& outcome) {
  if (!control_.has_actuators(room)) return; // most rooms: nothing of them has to be looked at
  const RoomState& state = rooms_[room];
  const auto& settings = settings_->rooms[room];
  ControlView view{settings, sensors_[room], state.regime, state.doors, state.watched, true, {}, started_};
  view.safety_alarm = state.alarms.safety_alarm_stands();
  if (settings.entry_lock) view.entry_withheld = entry_withheld(room, now);
  const auto values = [&](control::ProcessValue value) {
    return process_value(value, view, *settings_, state.ambient, sensors_, now);
  };
  auto result = control_.evaluate(room, view, values, now, wall);
  if (result.changed) outcome.rooms_changed.push_back(room);
  add_lines(std::move(result.lines), outcome);
}

std::uint32_t Site::value_of(const config::Actuator& actuator) const {
  return config::value_of(actuator, control_.driven(actuator.name));
}

std::optional<Site::Acted> Site::order(const std::string& output, const control::ActuatorOrder& order, Monotonic now,
                                       WallTime wall) {
  latest_ = std::max(latest_, now);
  auto ordered = control_.act(output, order, now, wall);
  if (!ordered) return std::nullopt;
  Acted acted;
  if (!ordered->refusal.empty()) acted.refusal = ordered->refusal;
  add_lines(std::move(ordered->lines), acted.outcome);
  return acted;
}

std::optional<Site::Acted> Site::order(const std::string& room, const std::string& loop,
                                       const PlantControl::LoopOrder& order, Monotonic now, WallTime wall) {
  latest_ = std::max(latest_, now);
  auto ordered = control_.act(room, loop, order, now, wall);
  if (!ordered) return std::nullopt;
  Acted acted;
  if (!ordered->refusal.empty()) acted.refusal = ordered->refusal;
  add_lines(std::move(ordered->lines), acted.outcome);
  return acted;
}

Outcome Site::restore_control(const std::vector<ControlRemembered>& remembered, Monotonic now, WallTime wall) {
  Outcome outcome;
  add_lines(control_.restore(remembered, now, wall), outcome);
  return outcome;
}

} // namespace oxherd::daemon
