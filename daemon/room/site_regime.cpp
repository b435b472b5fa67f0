// What a site does with the regimes of its rooms and the locks of their doors.
#include "daemon/room/site.hpp"

namespace oxherd::daemon {

void Site::evaluate_entry(std::size_t room, Monotonic now, WallTime wall, Outcome& outcome) {
  RoomState& state = rooms_[room];
  const auto& lock = *settings_.rooms[room].entry_lock;
  state.entry_objections =
      alarms::objections(lock, {state.regime.regime, state.watched.monitored, state.alarms.safety_alarm_stands(),
                                state.watched.oxygen, state.watched.carbon_dioxide});
  state.entry = alarms::next(state.entry, state.entry_objections.empty(), now);
  const bool withheld = entry_withheld(room, now);
  if (withheld == state.last_withheld) return;
  state.last_withheld = withheld;
  outcome.room_events.push_back(entry_lock_record(settings_.rooms[room], withheld, state.entry_objections, wall));
  outcome.room_events.back().sequence = ++sequence_;
  outcome.rooms_changed.push_back(room);
}

bool Site::entry_withheld(std::size_t room, Monotonic now) const {
  const auto& lock = settings_.rooms[room].entry_lock;
  return !lock || alarms::is_withheld(*lock, rooms_[room].entry, now);
}

void Site::restore_regimes(const std::vector<RegimeStatement>& statements) {
  for (const auto& statement : statements)
    for (std::size_t r = 0; r < rooms_.size(); ++r)
      if (settings_.rooms[r].name == statement.room && still_holds(settings_.rooms[r], statement))
        rooms_[r].regime = statement;
}

std::optional<Site::Acted> Site::set_regime(const std::string& room, const RegimeAct& act, Monotonic now,
                                            WallTime wall) {
  for (std::size_t r = 0; r < rooms_.size(); ++r) {
    const auto& settings = settings_.rooms[r];
    if (settings.name != room) continue;
    Acted acted;
    const auto before = rooms_[r].regime;
    const auto doors = doors_of(settings, sensors_[r], started_, now);
    const auto objection = objection_to(settings, before, act, doors);
    acted.outcome.room_events.push_back(regime_record(settings, before, act, objection, wall));
    acted.outcome.room_events.back().sequence = ++sequence_;
    if (objection.empty()) {
      rooms_[r].regime = {room, act.regime, wall, act.author, act.comment};
      acted.outcome.rooms_changed.push_back(r);
    } else
      acted.refusal = objection;
    return acted;
  }
  return std::nullopt;
}

} // namespace oxherd::daemon
