#pragma once

#include <optional>
#include <string>
#include <vector>

#include "alarms/entry_lock.hpp"
#include "config/settings.hpp"
#include "daemon/records.hpp"
#include "daemon/room/channel.hpp"

namespace oxherd::daemon {

/// The doors of a room: whether one is open. Empty: one that has a contact gives no state that can be used, and none
/// of the others is open.
struct Doors {
  bool any = false; ///< the room has a contact
  std::optional<bool> open;
  std::string trouble; ///< why not known; empty: known, or the first sample is not due yet
  /// For judging whether people may be in: what is not known counts as open.
  [[nodiscard]] bool may_be_open() const { return any && open.value_or(true); }
};

/// A contact whose first sample is not due yet is no trouble until it is.
[[nodiscard]] Doors doors_of(const config::Room& room, const std::vector<SensorState>& sensors, Monotonic now);

/// The regime of the file, until a person says otherwise.
[[nodiscard]] RegimeStatement regime_in_file(const config::Room& room, WallTime at);

/// Whether a statement still holds for a room with these settings: made by a person, and of a regime that it can be in.
[[nodiscard]] bool still_holds(const config::Room& room, const RegimeStatement& statement);

/// What speaks against a change; empty: nothing does. Leaving the sealed regime is always allowed. Sealing needs a
/// reason, doors that are known to be closed, nobody whom a contact sees, and a person who has seen that the room is
/// empty. A room whose seal was broken is sealed anew in the same way.
[[nodiscard]] std::string objection_to(const config::Room& room, const RegimeStatement& before, const RegimeAct& act,
                                       const Doors& doors, bool people_seen);

/// The line of the journal; `sequence` is still 0.
[[nodiscard]] AlarmRecord regime_record(const config::Room& room, const RegimeStatement& before, const RegimeAct& act,
                                        const std::string& refusal, WallTime at);

/// What holds when the settings no longer permit what was said: the regime of the file, but for the sealed one, which
/// takes a person's word.
[[nodiscard]] RegimeStatement regime_after_lapse(const config::Room& room, WallTime at);

/// The line of the journal that a sealed room is sealed no longer; `sequence` is still 0.
/// @param by_people  people were seen in it, with its door closed as far as is known; else its door was opened
[[nodiscard]] AlarmRecord seal_broken_record(const config::Room& room, bool by_people, WallTime at);

/// The line of the journal that the lock is withheld, and why, or no longer; `sequence` is still 0.
[[nodiscard]] AlarmRecord entry_lock_record(const config::Room& room, bool withheld,
                                            const std::vector<std::string>& reasons, WallTime at);

} // namespace oxherd::daemon
