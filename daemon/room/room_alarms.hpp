#pragma once

#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/records.hpp"
#include "daemon/room/poll.hpp"

namespace oxherd::daemon {

/// The values of a room as its alarms judge them, one entry per voting channel.
struct WatchedQuantities {
  std::vector<alarms::Channel> oxygen, oxygen_partial_pressure, carbon_dioxide;
  bool oxygen_awaited = false, carbon_dioxide_awaited = false; ///< a channel has not had the time for its first sample
  bool monitored = false;
  std::string reason; ///< why not monitored, and what else is wrong
};

/// The value that stands for a voted group: the only one, the lower (higher for a high limit) of two, the median of
/// three. Never the mean. Empty when no channel is usable.
[[nodiscard]] std::optional<alarms::Channel> standing_value(const std::vector<alarms::Channel>& channels,
                                                            alarms::Direction unfavourable);

/// One alarm of a room with what its messages need.
struct RoomAlarm {
  alarms::AlarmState state;
  WallTime since;  ///< civil time the shown state was entered
  WallTime raised; ///< civil time of the last annunciation, for the message
};

struct AlarmOutcome {
  AlarmRecord record; ///< `sequence` is still 0
  std::size_t alarm = 0;
};

/// All alarms of one room: evaluation, acts of people, messages. A value type; time comes in.
class RoomAlarms {
public:
  RoomAlarms(const config::Room& room, const config::Site& site, Monotonic now, WallTime wall);

  /// Takes over what was recorded of one alarm before a restart. Unknown names are ignored.
  void restore(const AlarmSnapshot& snapshot, Monotonic now, WallTime wall);

  [[nodiscard]] std::vector<AlarmOutcome> evaluate(const WatchedQuantities& values, bool new_sample, Monotonic now,
                                                   WallTime wall);
  /// A record of every alarm that is not normal, with nothing changed: what a restart found.
  [[nodiscard]] std::vector<AlarmOutcome> standing(const char* event, WallTime wall) const;
  /// An act of a named person; a refusal is an outcome too, with the reason in `refusal`.
  struct ActResult {
    AlarmOutcome outcome;
    std::optional<std::string> refusal;
  };
  [[nodiscard]] std::optional<ActResult> act(const std::string& alarm, alarms::Act act, const std::string& author,
                                             const std::string& comment, Monotonic now, WallTime wall);

  [[nodiscard]] AlarmStatus status(std::size_t alarm, Monotonic now) const;
  [[nodiscard]] AlarmSnapshot snapshot(std::size_t alarm, Monotonic now, WallTime wall) const;
  [[nodiscard]] std::size_t size() const { return states_.size(); }
  /// De-energise to trip: whether any safety alarm stands that holds the room's relay dropped.
  [[nodiscard]] bool relay_dropped() const;

private:
  [[nodiscard]] AlarmOutcome outcome(std::size_t i, const char* event, WallTime wall) const;
  [[nodiscard]] std::string message(std::size_t i) const;
  [[nodiscard]] const std::vector<alarms::Channel>& channels_of(config::AlarmQuantity quantity) const;
  [[nodiscard]] std::optional<alarms::Channel> value_of(std::size_t i) const;

  config::Room room_;
  config::Site site_;
  std::vector<RoomAlarm> states_;
  WatchedQuantities last_;
};

} // namespace oxherd::daemon
