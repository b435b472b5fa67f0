// What a site takes over: of an earlier run from the records, and over a reload from the site that ran before.
#include <algorithm>
#include <utility>

#include "daemon/room/site.hpp"

namespace oxherd::daemon {
namespace {

using alarms::State;

bool is_active(const alarms::Recorded& r) { return r.present || r.beneath != State::normal; }

} // namespace

std::vector<AlarmSnapshot> Site::restore(const std::vector<AlarmSnapshot>& alarms, std::int64_t last_sequence,
                                         Monotonic now, WallTime wall) {
  sequence_ = std::max(sequence_, last_sequence);
  std::vector<AlarmSnapshot> orphans;
  for (const auto& snapshot : alarms) {
    bool known = false;
    for (std::size_t r = 0; r < rooms_.size(); ++r) {
      const auto& room = settings_->rooms[r];
      if (room.name != snapshot.room) continue;
      known = std::any_of(room.alarms.begin(), room.alarms.end(),
                          [&](const config::AlarmSettings& a) { return a.name == snapshot.alarm; });
      rooms_[r].alarms.restore(snapshot, now, wall);
    }
    if (!known && is_active(snapshot.recorded)) orphans.push_back(snapshot);
  }
  return orphans;
}

Outcome Site::announce_taken_over(TakenOver by, Monotonic now, WallTime wall) {
  Outcome outcome;
  for (std::size_t r = 0; r < rooms_.size(); ++r) {
    refresh(r, now, wall);
    publish(r, rooms_[r].alarms.taken_over(by, rooms_[r].watched, now, wall), now, wall, outcome);
  }
  return outcome;
}

Outcome Site::announce_restart(Monotonic now, WallTime wall) {
  return announce_taken_over(TakenOver::restart, now, wall);
}
Outcome Site::announce_reload(Monotonic now, WallTime wall) {
  Outcome outcome;
  add_lines(std::exchange(control_lines_, {}), outcome);
  append(outcome, announce_taken_over(TakenOver::reload, now, wall));
  return outcome;
}

void Site::continue_from(const Site& before, Monotonic now, WallTime wall) {
  evaluations_ = before.evaluations_;
  std::vector<AlarmSnapshot> snapshots;
  for (std::size_t r = 0; r < before.rooms_.size(); ++r)
    for (std::size_t a = 0; a < before.rooms_[r].alarms.size(); ++a)
      snapshots.push_back(before.rooms_[r].alarms.snapshot(a, now, wall));
  // Active alarms that would be lost make the caller refuse the reload before it comes to this.
  static_cast<void>(restore(snapshots, before.sequence_, now, wall));
  for (std::size_t r = 0; r < rooms_.size(); ++r)
    for (std::size_t b = 0; b < before.rooms_.size(); ++b) {
      if (settings_->rooms[r].name != before.settings_->rooms[b].name) continue;
      rooms_[r].ever_monitored = before.rooms_[b].ever_monitored;
      take_regime(r, before.rooms_[b].regime, wall);
      rooms_[r].alarms.continue_from(before.rooms_[b].alarms);
      for (std::size_t s = 0; s < sensors_[r].size(); ++s)
        for (std::size_t t = 0; t < before.sensors_[b].size(); ++t) {
          const auto& mine = settings_->rooms[r].sensors[s];
          const auto& theirs = before.settings_->rooms[b].sensors[t];
          if (mine.name == theirs.name && mine.profile == theirs.profile && mine.points.size() == theirs.points.size())
            sensors_[r][s] = before.sensors_[b][t];
          sensors_[r][s].in_hand.reset(); // whoever worked on it begins anew
          if (mine.name == theirs.name && mine.cell && theirs.cell && mine.cell->serial == theirs.cell->serial)
            rooms_[r].cell_reasons[s] = before.rooms_[b].cell_reasons[t]; // until it is judged by the new settings
        }
    }
  control_lines_ = control_.continue_from(before.control_, now, wall);
}

std::vector<std::string> Site::active_alarms_missing_from(const config::Settings& next) const {
  std::vector<std::string> missing;
  for (std::size_t r = 0; r < rooms_.size(); ++r)
    for (std::size_t a = 0; a < settings_->rooms[r].alarms.size(); ++a) {
      const auto status = rooms_[r].alarms.status(a, Monotonic{0});
      if (status.state == State::normal && !status.present) continue;
      const bool kept = std::any_of(next.rooms.begin(), next.rooms.end(), [&](const config::Room& room) {
        return room.name == status.room && std::any_of(room.alarms.begin(), room.alarms.end(),
                                                       [&](const auto& x) { return x.name == status.alarm; });
      });
      if (!kept) missing.push_back(status.room + "/" + status.alarm);
    }
  return missing;
}

} // namespace oxherd::daemon
