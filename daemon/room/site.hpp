#pragma once

#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "config/settings.hpp"
#include "daemon/control/plant_control.hpp"
#include "daemon/records.hpp"
#include "daemon/room/ambient.hpp"
#include "daemon/room/gas_reading.hpp"
#include "daemon/room/room_alarms.hpp"
#include "daemon/room/room_regime.hpp"

namespace oxherd::daemon {

/// One alarm record with the state it left behind.
struct AlarmNews {
  AlarmRecord record;
  AlarmSnapshot snapshot;
  AlarmStatus status;
};

/// What one step of the site brought; effects (relay, journal, MQTT) follow from it elsewhere.
struct Outcome {
  std::vector<SampleRecord> samples;
  std::vector<ReadingRecord> readings;
  std::vector<AlarmNews> alarms;
  std::vector<AlarmRecord> room_events;   ///< lines of the journal about rooms themselves
  std::vector<std::size_t> rooms_changed; ///< an alarm, the monitoring or the relay of these changed
};

/// Adds what came later.
void append(Outcome& to, Outcome from);

/// Goes through its lines of the journal in the order of their numbers, whatever they are about: who reads on behind a
/// line never finds one before it afterwards.
template <class OnAlarm, class OnEvent>
void for_each_line(const Outcome& outcome, const OnAlarm& on_alarm, const OnEvent& on_event) {
  auto event = outcome.room_events.begin();
  for (const auto& news : outcome.alarms) {
    for (; event != outcome.room_events.end() && event->sequence < news.record.sequence; ++event) on_event(*event);
    on_alarm(news);
  }
  for (; event != outcome.room_events.end(); ++event) on_event(*event);
}

/// Calibrations by "room/sensor", as the store or the file gives them.
using Calibrations = std::map<std::string, ActiveCalibration>;

/// The decision core: every room's sensors, readings and alarms as a function of what came in and when. No I/O, no
/// clock; the same polls, ticks and acts at the same times give the same records. Used from the decision thread only.
class Site {
public:
  Site(config::Settings settings, const Calibrations& calibrations, Monotonic now, WallTime wall);
  /// With settings that others keep too, such as a simulation that starts the same site again and again.
  Site(std::shared_ptr<const config::Settings> settings, const Calibrations& calibrations, Monotonic now,
       WallTime wall);

  /// Takes over alarms and the journal's last sequence number from the last run.
  /// @return the remembered alarms that this configuration no longer has although they were active
  [[nodiscard]] std::vector<AlarmSnapshot> restore(const std::vector<AlarmSnapshot>& alarms, std::int64_t last_sequence,
                                                   Monotonic now, WallTime wall);
  /// Journal records of the alarms that stand after restore(), so that the record shows what a restart took over, and
  /// of those that stood before. Regimes are restored first.
  [[nodiscard]] Outcome announce_restart(Monotonic now, WallTime wall);
  /// Takes sensors' last samples and all alarm states over from the site that ran before a reload.
  void continue_from(const Site& before, Monotonic now, WallTime wall);
  /// Journal records of what became different by continue_from(), so that no alarm changes without a record.
  [[nodiscard]] Outcome announce_reload(Monotonic now, WallTime wall);
  /// What the life of a sensor's cell holds against it, from the next step on; in place of what was given before.
  void set_cell_reasons(SensorRef at, std::vector<alarms::Reason> reasons);
  /// Active alarms that a new configuration would delete; a reload with any is refused.
  [[nodiscard]] std::vector<std::string> active_alarms_missing_from(const config::Settings& next) const;

  [[nodiscard]] Outcome take(const Poll& poll);
  /// Lets time pass in one room: delays end, samples grow old. Each at least every 0.5 s.
  [[nodiscard]] Outcome tick_room(std::size_t room, Monotonic now, WallTime wall);
  /// When the clock alone may change an alarm of a room next, samples being as they were at its last evaluation; see
  /// RoomAlarms::due. What grows old meanwhile is another matter.
  [[nodiscard]] std::optional<Monotonic> alarms_due(std::size_t room, Monotonic evaluated) const {
    return rooms_[room].alarms.due(evaluated);
  }
  /// Every room has been ticked once more: one evaluation of the site is complete.
  void complete_evaluation() { ++evaluations_; }
  /// All of them, one after the other.
  [[nodiscard]] Outcome tick(Monotonic now, WallTime wall);

  /// A line for the journal that is about no alarm, with its number.
  [[nodiscard]] AlarmRecord numbered(AlarmRecord record) {
    record.sequence = ++sequence_;
    return record;
  }

  /// The number of the journal's last line.
  [[nodiscard]] std::int64_t last_line() const { return sequence_; }

  struct Acted {
    Outcome outcome;
    std::optional<std::string> refusal;
  };
  /// Empty when there is no such room or alarm.
  [[nodiscard]] std::optional<Acted> act(const std::string& room, const std::string& alarm, const PersonAct& act,
                                         Monotonic now, WallTime wall);

  /// Takes over what persons have said of the rooms' regimes in an earlier run.
  void restore_regimes(const std::vector<RegimeStatement>& statements);
  /// The journal's lines of what no longer holds by the settings, after restore_regimes() or continue_from().
  [[nodiscard]] Outcome settle_regimes(WallTime wall);
  /// What a person says of the regime of a room; in force at the next evaluation. Empty when there is no such room.
  [[nodiscard]] std::optional<Acted> set_regime(const std::string& room, const RegimeAct& act, Monotonic now,
                                                WallTime wall);
  [[nodiscard]] const RegimeStatement& regime(std::size_t room) const { return rooms_[room].regime; }
  /// Whether the lock of a room's door is withheld; true for a room without one.
  [[nodiscard]] bool entry_withheld(std::size_t room, Monotonic now) const;
  /// What is known of the outputs that a room answers for, from the next evaluation on.
  void set_outputs_found(std::size_t room, OutputsFound found);
  /// The calibration that readings of a cell rest on from now on; empty: it is not calibrated.
  void set_calibration(SensorRef sensor, const std::optional<ActiveCalibration>& calibration);
  /// A person works on a cell: its readings are bad meanwhile, and say why (NE 107 "function check"). Empty: done.
  void set_function_check(SensorRef sensor, const std::optional<std::string>& text);
  /// The gas of a room as its cells' readings take it now.
  [[nodiscard]] Ambient ambient(std::size_t room, Monotonic now) const;
  /// Cell, calibration and sources of a sensor; null where it measures no oxygen.
  [[nodiscard]] const SharedBasis& basis(SensorRef sensor) const { return bases_[sensor.room][sensor.sensor]; }
  /// What the gas sensors of a room say, by sensor; empty for others.
  [[nodiscard]] const std::vector<std::optional<GasReading>>& gas(std::size_t room) const { return rooms_[room].gas; }

  /// A person's order to an actuator, or to a loop; in force at the next evaluation. Empty when there is
  /// none of that name.
  [[nodiscard]] std::optional<Acted> order(const std::string& output, const control::ActuatorOrder& order,
                                           Monotonic now, WallTime wall);
  [[nodiscard]] std::optional<Acted> order(const std::string& room, const std::string& loop,
                                           const PlantControl::LoopOrder& order, Monotonic now, WallTime wall);
  /// Takes over what the journal remembers of actuators; nothing starts by it. The lines say what has ended.
  [[nodiscard]] Outcome restore_control(const std::vector<ControlRemembered>& remembered, Monotonic now, WallTime wall);
  /// Goes on with the programs that were kept over a restart.
  void restore_programs(ReadPrograms read, Monotonic now) { control_.restore(std::move(read), now); }
  /// What the device of an actuator is to hold.
  [[nodiscard]] std::uint32_t value_of(const config::Actuator& actuator) const;
  [[nodiscard]] const PlantControl& control() const { return control_; }
  /// Everywhere but in a sealed room whose door has stayed closed.
  [[nodiscard]] bool people_may_be_in(std::size_t room) const {
    return alarms::people_may_be_in(rooms_[room].watched.presence);
  }

  [[nodiscard]] const config::Settings& settings() const { return *settings_; }
  [[nodiscard]] RoomStatus status(std::size_t room, Monotonic now, WallTime wall) const;
  [[nodiscard]] RoomLevel level(std::size_t room, WallTime wall) const;
  /// Coil on = healthy: monitored since the start, and no safety alarm stands. Off until then.
  [[nodiscard]] bool relay_energised(std::size_t room) const;
  /// The alarms of a room as horns and beacons know them.
  [[nodiscard]] std::vector<alarms::Announced> announced(std::size_t room, Monotonic now) const {
    return rooms_[room].alarms.announced(now);
  }
  /// What is shown of an alarm; an unknown one counts as unacknowledged, so that a display is never quiet by mistake.
  [[nodiscard]] alarms::State state_of(std::size_t room, const std::string& alarm) const {
    return rooms_[room].alarms.state_of(alarm).value_or(alarms::State::unacknowledged);
  }
  /// What a display may show, a ratio; empty while the room is not monitored or the vote gives no value.
  [[nodiscard]] std::optional<double> shown_value(std::size_t room, config::ShownQuantity quantity) const;
  [[nodiscard]] std::uint64_t evaluations() const { return evaluations_; } ///< completed ones, of the whole site

private:
  struct RoomState {
    AmbientSources ambient;
    RoomAlarms alarms;
    WatchedQuantities watched{};
    WatchedQuantities voted{};                      ///< `watched` as the readings alone have it
    std::optional<alarms::Presence> voted_for{};    ///< whom `voted` judges for; empty: readings have changed since
    std::optional<Monotonic> readings_hold_until{}; ///< until then they stand as they are, if nothing comes
    std::uint64_t sources_changes = 0;              ///< of the ambient sources, when readings were formed
    std::vector<std::optional<GasReading>> gas{};   ///< by sensor; only gas sensors have one
    std::vector<std::vector<alarms::Reason>> cell_reasons{}; ///< by sensor
    RegimeStatement regime{};
    Doors doors{};
    alarms::EntryLockState entry{};
    std::vector<std::string> entry_objections{};
    bool last_withheld = true;
    bool regime_lapsed = false; ///< what was said does not hold with these settings; the journal has no line of it yet
    bool broken_by_people = false; ///< the seal: they were seen before any door was
    bool broken_told = false;
    OutputsFound outputs{};
    bool recalibrated = false; ///< since the last evaluation
    bool ever_monitored = false;
    bool last_monitored = false;
    bool last_relay = false;
  };

  [[nodiscard]] GasReading gas_reading(SensorRef at, const Ambient& ambient, Monotonic now, WallTime wall) const;
  [[nodiscard]] GasReading judged_gas(SensorRef at, const Ambient& ambient, Monotonic now, WallTime wall) const;
  /// What is wrong with the ambient points of a sensor, each thing once, and with its cell.
  [[nodiscard]] std::vector<alarms::Reason> other_reasons(SensorRef at, Monotonic now) const;
  /// Readings and what alarms watch, as they are now.
  void refresh(std::size_t room, Monotonic now, WallTime wall);
  /// Whether its readings would be the same if they were formed anew, but for what grows by the hour.
  [[nodiscard]] bool readings_hold(std::size_t room, Monotonic now) const;
  void form_readings(std::size_t room, Monotonic now, WallTime wall);
  /// Who may be in now, by its contacts; what breaks the seal of a room does so for good.
  alarms::Presence presence(std::size_t room, Monotonic now);
  void refresh_from(SensorRef at, Monotonic now, WallTime wall);
  void watch(std::size_t room, Monotonic now); ///< what doors, votes and outputs make of the readings
  void evaluate(std::size_t room, bool new_sample, Monotonic now, WallTime wall, Outcome& outcome);
  Outcome announce_taken_over(TakenOver by, Monotonic now, WallTime wall);
  void take_regime(std::size_t room, const RegimeStatement& said, WallTime wall);
  void evaluate_control(std::size_t room, Monotonic now, WallTime wall, Outcome& outcome);
  void add_lines(std::vector<AlarmRecord> lines, Outcome& outcome);
  void evaluate_entry(std::size_t room, Monotonic now, WallTime wall, Outcome& outcome);
  void publish(std::size_t room, std::vector<AlarmOutcome> changes, Monotonic now, WallTime wall, Outcome& outcome);
  [[nodiscard]] ReadingRecord reading_record(SensorRef at, Monotonic now, WallTime wall) const;

  std::shared_ptr<const config::Settings> settings_; ///< shared with the alarms of the rooms
  std::vector<std::vector<SharedBasis>> bases_;      ///< by room and sensor; null for sensors that measure no oxygen
  SensorStates sensors_;
  std::vector<RoomState> rooms_;
  PlantControl control_;
  std::vector<AlarmRecord> control_lines_; ///< of a reload, until announce_reload()
  Monotonic started_;
  Monotonic latest_; ///< that anything was decided for: what comes late is decided no earlier
  std::int64_t sequence_ = 0;
  std::uint64_t evaluations_ = 0;
};

} // namespace oxherd::daemon
