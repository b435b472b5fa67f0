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
  outcome.room_events.push_back(
      numbered(entry_lock_record(settings_.rooms[room], withheld, state.entry_objections, wall)));
  outcome.rooms_changed.push_back(room);
}

bool Site::entry_withheld(std::size_t room, Monotonic now) const {
  const auto& lock = settings_.rooms[room].entry_lock;
  return !lock || alarms::is_withheld(*lock, rooms_[room].entry, now);
}

/// What was said before, where it still holds. A sealed regime never comes from settings that changed.
void Site::take_regime(std::size_t room, const RegimeStatement& said, WallTime wall) {
  RoomState& state = rooms_[room];
  const auto& settings = settings_.rooms[room];
  const bool sealed_by_file = state.regime.regime == alarms::Regime::sealed_low_oxygen;
  if (still_holds(settings, said))
    state.regime = said;
  else if (!said.by.empty() || (sealed_by_file && said.regime != alarms::Regime::sealed_low_oxygen)) {
    state.regime = regime_after_lapse(settings, wall);
    state.regime_lapsed = true;
  }
  if (state.regime.regime == alarms::Regime::sealed_low_oxygen && said.opened) state.regime.opened = true;
  state.opened_told = state.regime.opened;
}

void Site::restore_regimes(const std::vector<RegimeStatement>& statements) {
  for (const auto& statement : statements)
    for (std::size_t r = 0; r < rooms_.size(); ++r)
      if (settings_.rooms[r].name == statement.room) take_regime(r, statement, rooms_[r].regime.since);
}

Outcome Site::settle_regimes(WallTime wall) {
  Outcome outcome;
  for (std::size_t r = 0; r < rooms_.size(); ++r) {
    RoomState& state = rooms_[r];
    if (!state.regime_lapsed) continue;
    state.regime_lapsed = false;
    const RegimeAct by_settings{state.regime.regime, by_the_program, state.regime.comment, false};
    outcome.room_events.push_back(numbered(regime_record(settings_.rooms[r], state.regime, by_settings, {}, wall)));
    outcome.rooms_changed.push_back(r);
  }
  return outcome;
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
    acted.outcome.room_events.push_back(numbered(regime_record(settings, before, act, objection, wall)));
    if (objection.empty()) {
      rooms_[r].regime = {room, act.regime, wall, act.author, act.comment, false};
      rooms_[r].opened_told = false;
      acted.outcome.rooms_changed.push_back(r);
    } else
      acted.refusal = objection;
    return acted;
  }
  return std::nullopt;
}

} // namespace oxherd::daemon
