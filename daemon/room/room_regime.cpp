#include "daemon/room/room_regime.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <fmt/ranges.h>

#include "alarms/suppression.hpp"
#include "alarms/texts.hpp"
#include "config/regime_rules.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Regime;
using config::Measurand;

/// A line about a room itself, not about one of its alarms.
AlarmRecord line_about(const config::Room& room, const char* event, WallTime at) {
  AlarmRecord record;
  record.at = at;
  record.room = room.name;
  record.event = event;
  return record;
}

} // namespace

Doors doors_of(const config::Room& room, const std::vector<SensorState>& sensors, Monotonic now) {
  Doors doors;
  bool open = false, unknown = false;
  for (std::size_t s = 0; s < room.sensors.size(); ++s) {
    const auto point = point_of(room.sensors[s], Measurand::door);
    if (!point) continue;
    doors.any = true;
    const auto judged = judge(room.sensors[s], sensors[s], *point, now);
    if (judged.si) {
      open = open || *judged.si != 0.0;
      continue;
    }
    unknown = true;
    if (!sensors[s].answered && now - sensors[s].awaited_since <= permitted_age(room.sensors[s].every)) continue;
    doors.trouble = fmt::format("door contact {}: {}", room.sensors[s].name, cause_of(judged));
  }
  if (doors.any && (open || !unknown)) doors.open = open;
  return doors;
}

RegimeStatement regime_in_file(const config::Room& room, WallTime at) {
  return {room.name, room.regime, at, {}, {}, false};
}

bool still_holds(const config::Room& room, const RegimeStatement& statement) {
  const auto possible = config::possible_regimes(room.regime);
  return !statement.by.empty() && std::find(possible.begin(), possible.end(), statement.regime) != possible.end();
}

std::string objection_to(const config::Room& room, const RegimeStatement& before, const RegimeAct& act,
                         const Doors& doors, bool people_seen) {
  const auto possible = config::possible_regimes(room.regime);
  if (std::find(possible.begin(), possible.end(), act.regime) == possible.end()) {
    std::vector<std::string_view> names;
    names.reserve(possible.size());
    for (const auto regime : possible) names.push_back(name_of(regime));
    return fmt::format("{} cannot be {}: by its regime in the file, \"{}\", it can be {}", room.name,
                       name_of(act.regime), name_of(room.regime), fmt::join(names, ", "));
  }
  if (act.regime == before.regime && !before.broken)
    return fmt::format("{} is {} already", room.name, name_of(act.regime));
  if (act.regime != Regime::sealed_low_oxygen) return {};
  if (alarms::is_blank(act.comment)) return "a comment is needed: say why the room is sealed";
  if (doors.any && !doors.open)
    return "whether its door is closed cannot be told" + (doors.trouble.empty() ? " yet" : ": " + doors.trouble);
  if (doors.may_be_open()) return "its door is open: close it first";
  if (people_seen) return "people are seen in it by its occupancy contact: everybody must be out first";
  if (!act.seen_empty)
    return "somebody must have seen that the room is empty, locked and signed: say so, after looking";
  return {};
}

AlarmRecord regime_record(const config::Room& room, const RegimeStatement& before, const RegimeAct& act,
                          const std::string& refusal, WallTime at) {
  auto record = line_about(room, refusal.empty() ? regime_event : "regime-refused", at);
  record.cause = name_of(act.regime);
  record.author = act.author;
  record.comment = act.comment;
  record.text = refusal;
  if (!refusal.empty()) return record;
  record.text = fmt::format("{} is {} from now on, by {} (before: {}).", room.name, name_of(act.regime), act.author,
                            name_of(before.regime));
  record.text += act.regime == Regime::sealed_low_oxygen
                     ? " Its air may be deadly at any time. Its safety alarms are in force again when the door opens "
                       "or people are seen."
                     : " All of its safety alarms are in force. This does not mean that its air may be breathed.";
  return record;
}

RegimeStatement regime_after_lapse(const config::Room& room, WallTime at) {
  const bool sealed = room.regime == Regime::sealed_low_oxygen;
  return {room.name,      sealed ? Regime::ventilated_before_entry : room.regime,           at,
          by_the_program, fmt::format("the settings now say \"{}\"", name_of(room.regime)), false};
}

AlarmRecord seal_broken_record(const config::Room& room, bool by_people, WallTime at) {
  auto record = line_about(room, by_people ? people_seen_event : opened_event, at);
  record.text = by_people ? fmt::format("People were seen in {} while it is sealed at low oxygen.", room.name)
                          : fmt::format("The door of {} was opened while it is sealed at low oxygen.", room.name);
  record.text +=
      " Its safety alarms stay in force until somebody has seen that it is empty and says that it is sealed.";
  return record;
}

AlarmRecord entry_lock_record(const config::Room& room, bool withheld, const std::vector<std::string>& reasons,
                              WallTime at) {
  auto record = line_about(room, withheld ? "entry-lock-withheld" : "entry-lock-not-withheld", at);
  record.text = withheld
                    ? fmt::format("The entry lock of {} is withheld: {}.", room.name,
                                  reasons.empty() ? "its air has not been fresh for long enough"
                                                  : fmt::format("{}", fmt::join(reasons, "; ")))
                    : fmt::format("The entry lock of {} is no longer withheld. {}", room.name, alarms::caution_short());
  return record;
}

} // namespace oxherd::daemon
