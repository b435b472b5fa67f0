#pragma once

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "alarms/patterns.hpp"
#include "config/settings.hpp"
#include "daemon/records.hpp"
#include "daemon/room/alarm_message.hpp"
#include "daemon/room/poll.hpp"

namespace oxherd::daemon {

/// What is known of the outputs that a room answers for.
struct OutputsFound {
  std::optional<bool> confirmed; ///< each holds what it was told; empty: not known yet, or there is none
  bool relay_lost = false;       ///< its own alarm relay is among those that are lost
  std::string trouble;           ///< which are lost: what was wanted, what was found, what to do
  /// Each actuator by itself: false, lost; empty, not known yet.
  std::vector<std::pair<std::string, std::optional<bool>>> actuators{};
};

/// The values of a room as its alarms judge them, one entry per voting channel.
struct WatchedQuantities {
  std::vector<alarms::Channel> oxygen, oxygen_partial_pressure, carbon_dioxide;
  bool oxygen_awaited = false, carbon_dioxide_awaited = false; ///< a channel has not had the time for its first sample
  bool oxygen_continuous = true; ///< false: a cell's calibration has changed since the last evaluation
  alarms::VoteHealth vote_health = alarms::VoteHealth::full; ///< the worst of the room
  alarms::Presence presence;
  std::optional<bool> door_open; ///< see Doors
  bool monitored = false;
  std::string reason; ///< why not monitored, and what else is wrong
  OutputsFound outputs;
  std::string control_trouble; ///< which actuators wait to be released, and after what; empty: none
};

struct AlarmOutcome {
  AlarmRecord record; ///< `sequence` is still 0
  std::size_t alarm = 0;
};

/// By what alarms came over from the ones before.
enum class TakenOver { restart, reload };

/// All alarms of one room: evaluation, acts of people, messages. A value type; time comes in.
class RoomAlarms {
public:
  /// Of one room.
  /// @param settings  shared, because there may be thousands of rooms
  /// @param index     of the room in the settings
  RoomAlarms(std::shared_ptr<const config::Settings> settings, std::size_t index, Monotonic now, WallTime wall);

  /// Takes over what was recorded of one alarm before a restart. Unknown names are ignored.
  void restore(const AlarmSnapshot& snapshot, Monotonic now, WallTime wall);

  /// Takes over what rules have summed up so far, over a reload that left them as they were; rates begin anew.
  void continue_from(const RoomAlarms& before);

  [[nodiscard]] std::vector<AlarmOutcome> evaluate(const WatchedQuantities& values, bool new_sample, Monotonic now,
                                                   WallTime wall);
  /// After restore() or continue_from(): records from what the journal showed last to what is shown from now on. That
  /// differs where whoever acknowledged a test has not seen what is taken for real after it. A restart has one of every
  /// alarm that is or was not normal, a reload of those that it changed and of every test that it ended.
  [[nodiscard]] std::vector<AlarmOutcome> taken_over(TakenOver by, const WatchedQuantities& values, Monotonic now,
                                                     WallTime wall);
  /// An act of a named person; a refusal is an outcome too, with the reason in `refusal`.
  struct ActResult {
    AlarmOutcome outcome;
    std::optional<std::string> refusal;
  };
  [[nodiscard]] std::optional<ActResult> act(const std::string& alarm, const PersonAct& act, Monotonic now,
                                             WallTime wall);

  [[nodiscard]] AlarmStatus status(std::size_t alarm, Monotonic now) const;
  /// Every alarm as horns and beacons know it.
  [[nodiscard]] std::vector<alarms::Announced> announced(Monotonic now) const;
  /// Shown; empty when there is no alarm of that name.
  [[nodiscard]] std::optional<alarms::State> state_of(const std::string& alarm) const;
  [[nodiscard]] AlarmSnapshot snapshot(std::size_t alarm, Monotonic now, WallTime wall) const;
  [[nodiscard]] std::size_t size() const { return states_.size(); }
  /// Why the room counts as not monitored although enough channels are good: a safety alarm is out of service, or its
  /// votes have lacked a channel for longer than permitted. Empty: none.
  [[nodiscard]] std::string unguarded(Monotonic now) const;
  /// Whether an alarm of class "safety" is not normal or is hidden.
  [[nodiscard]] bool safety_alarm_stands() const;
  /// When the clock alone may change any of them next, samples being as they were at the last evaluation; as
  /// alarms::due of each. Empty: never.
  [[nodiscard]] std::optional<Monotonic> due(Monotonic evaluated) const;
  /// De-energise to trip: whether any safety alarm stands that holds the room's relay dropped. A lost output counts,
  /// since the relay may be what still warns; but not when the relay itself is lost: held off by that alarm, it could
  /// never be found to hold again, and one that is stuck would come and go.
  [[nodiscard]] bool relay_dropped() const;

private:
  [[nodiscard]] const config::Room& room() const { return settings_->rooms[index_]; }
  [[nodiscard]] AlarmOutcome outcome(std::size_t i, const char* event, WallTime wall) const;
  /// Those that suppress it now, by the site's clock on the wall; null: none.
  [[nodiscard]] const config::SuppressedHours* suppressed_hours(std::size_t i) const;
  [[nodiscard]] bool is_in_force(std::size_t i) const;
  [[nodiscard]] std::string reason_of(std::size_t i) const; ///< for its message
  [[nodiscard]] alarms::RuleInput input_of(std::size_t i, bool new_sample) const;
  [[nodiscard]] const std::vector<alarms::Channel>& channels_of(config::AlarmQuantity quantity) const;
  [[nodiscard]] std::optional<alarms::Channel> value_of(std::size_t i) const;
  /// Whose it is, its priority, value, limit and message as they are now, which a record and a status have alike.
  template <class To> void describe(std::size_t i, To& to) const;
  /// Lets the regime decide what it suppresses, and says what became of what the journal showed last.
  [[nodiscard]] AlarmOutcome take_up(std::size_t i, const char* event, Monotonic now, WallTime wall);
  void evaluate_one(std::size_t i, bool new_sample, Monotonic now, WallTime wall, std::vector<AlarmOutcome>& outcomes);
  void note_suppression(std::size_t i, const PersonAct& act, WallTime wall);
  void mark_first_out();

  std::shared_ptr<const config::Settings> settings_;
  std::size_t index_; ///< of the room
  std::vector<RoomAlarm> states_;
  WatchedQuantities last_;
  WallTime last_wall_;         ///< of the last evaluation
  bool relay_excused_ = false; ///< the relay is what is lost, or was and is not known to be found
};

} // namespace oxherd::daemon
