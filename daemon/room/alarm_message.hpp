#pragma once

#include <optional>
#include <string>

#include "config/settings.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon {

/// One alarm of a room with what its messages need.
struct RoomAlarm {
  alarms::AlarmState state;
  WallTime since;    ///< civil time the shown state was entered
  WallTime raised;   ///< civil time of the last annunciation, for the message
  WallTime returned; ///< civil time the condition last ended
  Suppressor shelved, out_of_service;
  std::optional<WallTime> shelved_until, out_of_service_until;
  std::string tester; ///< of the test that runs or ran last
  bool first_out = false;
  alarms::State told = alarms::State::normal; ///< what the journal showed last before a restart or a reload
  bool test_cut = false;                      ///< a test was running when a reload came, which ends it
  std::optional<WallTime> decided_since;      ///< the condition itself, after its delays; empty: it does not stand
};

/// What the alarm says to a person now; empty when it is normal and nothing is to be said.
/// @param value   held against the limit; absent when no channel can be used
/// @param reason  why the room is not monitored, and what else is wrong; for a lost output, what was found; for an
///                alarm that is not in force, why
[[nodiscard]] std::string alarm_message(const config::Site& site, const config::Room& room,
                                        const config::AlarmSettings& settings, const RoomAlarm& alarm,
                                        const std::optional<alarms::Channel>& value, bool in_force,
                                        const std::string& reason);

} // namespace oxherd::daemon
