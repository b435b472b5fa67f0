// What a site does with the regimes of its rooms and the locks of their doors.
#include "daemon/room/site.hpp"

namespace oxherd::daemon {

void Site::evaluate_entry(std::size_t room, Monotonic now, WallTime wall, Outcome& outcome) {
  RoomState& state = rooms_[room];
  const auto& lock = *settings_->rooms[room].entry_lock;
  state.entry_objections =
      alarms::objections(lock, {state.regime.regime, state.watched.monitored, state.alarms.safety_alarm_stands(),
                                state.watched.oxygen, state.watched.carbon_dioxide});
  state.entry = alarms::next(state.entry, state.entry_objections.empty(), now);
  const bool withheld = entry_withheld(room, now);
  if (withheld == state.last_withheld) return;
  state.last_withheld = withheld;
  outcome.room_events.push_back(
      numbered(entry_lock_record(settings_->rooms[room], withheld, state.entry_objections, wall)));
  outcome.rooms_changed.push_back(room);
}

bool Site::entry_withheld(std::size_t room, Monotonic now) const {
  const auto& lock = settings_->rooms[room].entry_lock;
  return !lock || alarms::is_withheld(*lock, rooms_[room].entry, now);
}

alarms::Presence Site::presence(std::size_t room, Monotonic now) {
  RoomState& state = rooms_[room];
  const auto people = contacts_of(settings_->rooms[room], sensors_[room], config::Measurand::occupancy, now).is;
  const bool opened = state.doors.open.value_or(false), seen = people == ContactsFound::State::yes;
  if (state.regime.regime == alarms::Regime::sealed_low_oxygen && !state.regime.broken && (opened || seen)) {
    state.regime.broken = true;
    state.broken_by_people = !opened;
  }
  // A closed door tells that nobody went in. Without a contact on it, people who cannot be told to be out count as in.
  const bool people_unknown = !state.doors.any && people == ContactsFound::State::unknown;
  return {state.regime.regime, state.doors.may_be_open() || people_unknown || state.regime.broken};
}

/// What was said before, where it still holds. A sealed regime never comes from settings that changed.
void Site::take_regime(std::size_t room, const RegimeStatement& said, WallTime wall) {
  RoomState& state = rooms_[room];
  const auto& settings = settings_->rooms[room];
  const bool sealed_by_file = state.regime.regime == alarms::Regime::sealed_low_oxygen;
  if (still_holds(settings, said))
    state.regime = said;
  else if (!said.by.empty() || (sealed_by_file && said.regime != alarms::Regime::sealed_low_oxygen)) {
    state.regime = regime_after_lapse(settings, wall);
    state.regime_lapsed = true;
  }
  if (state.regime.regime == alarms::Regime::sealed_low_oxygen && said.broken) state.regime.broken = true;
  state.broken_told = state.regime.broken;
}

void Site::restore_regimes(const std::vector<RegimeStatement>& statements) {
  for (const auto& statement : statements)
    for (std::size_t r = 0; r < rooms_.size(); ++r)
      if (settings_->rooms[r].name == statement.room) take_regime(r, statement, rooms_[r].regime.since);
}

Outcome Site::settle_regimes(WallTime wall) {
  Outcome outcome;
  for (std::size_t r = 0; r < rooms_.size(); ++r) {
    RoomState& state = rooms_[r];
    if (!state.regime_lapsed) continue;
    state.regime_lapsed = false;
    const RegimeAct by_settings{state.regime.regime, by_the_program, state.regime.comment, false};
    outcome.room_events.push_back(numbered(regime_record(settings_->rooms[r], state.regime, by_settings, {}, wall)));
    outcome.rooms_changed.push_back(r);
  }
  return outcome;
}

std::optional<Site::Acted> Site::set_regime(const std::string& room, const RegimeAct& act, Monotonic now,
                                            WallTime wall) {
  for (std::size_t r = 0; r < rooms_.size(); ++r) {
    const auto& settings = settings_->rooms[r];
    if (settings.name != room) continue;
    Acted acted;
    const auto before = rooms_[r].regime;
    const auto doors = doors_of(settings, sensors_[r], now);
    const bool seen =
        contacts_of(settings, sensors_[r], config::Measurand::occupancy, now).is == ContactsFound::State::yes;
    const auto objection = objection_to(settings, before, act, doors, seen);
    acted.outcome.room_events.push_back(numbered(regime_record(settings, before, act, objection, wall)));
    if (objection.empty()) {
      rooms_[r].regime = {room, act.regime, wall, act.author, act.comment, false};
      rooms_[r].broken_told = false;
      acted.outcome.rooms_changed.push_back(r);
    } else
      acted.refusal = objection;
    return acted;
  }
  return std::nullopt;
}

} // namespace oxherd::daemon
