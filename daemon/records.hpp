#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "alarms/alarm.hpp"
#include "alarms/quality.hpp"
#include "alarms/regime.hpp"
#include "compensation/oxygen_reading.hpp"
#include "daemon/loop_status.hpp"
#include "daemon/reading_basis.hpp"

namespace oxherd::daemon {

/// One decoded value as it came from the bus, good or bad.
struct SampleRecord {
  WallTime at;
  std::string room, sensor, measurand;
  std::optional<double> si; ///< absent when the value could not be read
  double raw = 0.0;
  alarms::Status status = alarms::Status::ok;
  std::string fault; ///< empty when fine; else the words for a person
};

/// One reading of one sensor: everything derived from one poll.
struct ReadingRecord {
  WallTime at;
  std::string room, sensor;
  std::optional<compensation::OxygenReading> oxygen;
  std::optional<double> raw_V;                                                ///< the cell's signal
  std::optional<double> temperature_K, humidity, pressure_Pa, carbon_dioxide; ///< SI; CO2 as wet mole fraction
  std::optional<double> over_pressure_Pa;                                     ///< of the room
  std::vector<std::pair<config::Measurand, bool>> contacts;                   ///< those that could be read
  double u_temperature_K = 0, u_humidity = 0, u_pressure_Pa = 0, u_carbon_dioxide = 0, u_over_pressure_Pa = 0;
  alarms::Status status = alarms::Status::ok;
  std::vector<alarms::Reason> reasons;
  SharedInputs inputs; ///< what the oxygen was formed from, and its basis; null for sensors of other kinds
  SharedBasis basis;
};

/// One line of the alarm journal: a transition, an act or its refusal.
struct AlarmRecord {
  WallTime at;
  std::int64_t sequence = 0; ///< given by the daemon, grows without gaps over restarts
  std::string room, alarm;
  /// "transition", "transition-suppressed" (beneath a suppression, for nobody's attention), "chattering",
  /// "chattering-ended", "test-ended", "restart" (of what stood then), "reload" (of what it changed), or the name of
  /// an act, with "-refused" behind it where it was refused.
  std::string event;
  alarms::State from = alarms::State::normal;
  alarms::State to = alarms::State::normal;
  std::string cause, author, comment;
  alarms::Priority priority = alarms::Priority::high;
  std::optional<double> value, expanded, limit; ///< SI
  std::string unit;                             ///< "/", "Pa"
  std::string text;                             ///< message for a person
};

/// Who hides an alarm, and why; empty when nobody does.
struct Suppressor {
  std::string by, reason;
  friend bool operator==(const Suppressor&, const Suppressor&) = default;
};

/// What a person does to an alarm. `duration` matters to shelving, removal from service and tests.
struct PersonAct {
  alarms::Act act = alarms::Act::acknowledge;
  std::string author, comment;
  alarms::Monotonic duration{0};
};

/// Event of a journal line by which a person said what the regime of a room is; its cause is the regime.
inline constexpr const char* regime_event = "regime";

/// Events of journal lines that a sealed room is sealed no longer: its door was opened, or people were seen in it.
inline constexpr const char* opened_event = "opened";
inline constexpr const char* people_seen_event = "people-seen";
/// As whom the journal names a regime that follows from the settings, not from a person's word.
inline constexpr const char* by_the_program = "oxherd";

/// Which regime a room is in, since when, and who said so; nobody: the file.
struct RegimeStatement {
  std::string room;
  alarms::Regime regime = alarms::Regime::occupied;
  WallTime since;
  std::string by, comment;
  bool broken = false; ///< since the room was sealed its door has been open, or people were seen in: they may be still
};

/// A person says what the regime of a room is from now on.
struct RegimeAct {
  alarms::Regime regime = alarms::Regime::occupied;
  std::string author, comment;
  bool seen_empty = false; ///< for sealing: has seen that the room is empty, locked and signed
};

/// What the store keeps of an alarm so that a restart acknowledges and clears nothing.
struct AlarmSnapshot {
  std::string room, alarm;
  alarms::Recorded recorded;
  alarms::State shown = alarms::State::normal; ///< as the journal leaves it
  WallTime since;                              ///< civil time the shown state was entered
  std::optional<WallTime> shelved_until, out_of_service_until;
  Suppressor shelved, out_of_service;
  bool first_out = false;
  std::optional<WallTime> raised{}, returned{}; ///< last annunciation, last end of the condition
  std::optional<WallTime> decided_since{}; ///< civil time since which the condition itself stands; empty: it does not
};

/// The present state of one alarm, for status, MQTT and pages.
struct AlarmStatus {
  std::string room, alarm;
  alarms::State state = alarms::State::normal;
  alarms::Priority priority = alarms::Priority::high;
  bool safety = true;
  bool sounding = false;
  bool present = false;
  bool first_out = false;  ///< the first alarm of its room to come, until all of the room are normal again
  bool chattering = false; ///< comes and goes again and again
  bool test = false;       ///< what is shown is simulated, or is about to be
  bool in_force = true;    ///< false: it judges nothing, or is suppressed, by the regime of its room
  WallTime since;
  WallTime raised;                          ///< last annunciation
  std::optional<WallTime> suppressed_until; ///< of the suppression shown
  std::string suppressed_by, suppressed_because;
  std::optional<double> value, expanded, limit;
  double coverage_factor = 2.0; ///< k of `expanded`
  std::string unit, text;
  std::string_view quantity; ///< "oxygen", "oxygen-partial-pressure", "carbon-dioxide", "door", "monitoring"
  alarms::Monotonic shelve_at_most{0}, out_of_service_at_most{0};
};

/// One sensor as `status` shows it.
struct SensorStatus {
  std::string name;
  std::vector<std::string> measures;
  std::optional<ReadingRecord> last;
  std::optional<std::int64_t> age_ms;
  alarms::Status status = alarms::Status::failure;
  std::vector<alarms::Reason> reasons;
};

/// Whether the lock of a room's door is withheld, and why.
struct EntryLockStatus {
  bool withheld = true;
  std::vector<std::string> reasons;           ///< empty while only the time is lacking
  std::optional<alarms::Monotonic> fresh_for; ///< without a break
  alarms::Monotonic hold{0};                  ///< for how long it must be
};

/// What the air of a room is now, as its vote shows it.
struct RoomLevel {
  WallTime at;
  std::string room;
  std::optional<double> oxygen, expanded_oxygen; ///< (median of 2oo3, lower of two), ratio
  double coverage_factor = 2.0;                  ///< k of `expanded_oxygen`
  std::optional<double> carbon_dioxide;
};

/// A word and a time that a person gave.
struct SaidOfActuator {
  std::string by, because;
  WallTime since;
  std::optional<WallTime> until{};
};

/// An actuator as `status` shows it.
struct ActuatorStatus {
  std::string name;
  std::string_view duty, decided_by;
  double output = 0.0;                                              ///< what its device is told, 0 to 1
  std::string because;                                              ///< in words
  std::vector<std::pair<std::string_view, std::string>> blocked_by; ///< conditions, with words
  std::optional<SaidOfActuator> started, held, tripped;             ///< the last without an author
  std::string held_back;                                            ///< by its switching times; empty: it is not
  std::string forecast;                                             ///< of a purge
  std::optional<LoopStatus> loop;
};

struct RoomStatus {
  WallTime at;
  std::string room;
  RegimeStatement regime;
  std::optional<std::string> door; ///< "open", "closed" or "unknown"; absent without a contact
  std::optional<EntryLockStatus> entry_lock;
  bool monitored = false;
  std::string reason;                            ///< why not, when not
  std::optional<double> oxygen, expanded_oxygen; ///< the value the vote shows (median of 2oo3, lower of two), ratio
  double coverage_factor = 2.0;                  ///< k of `expanded_oxygen`
  std::optional<double> carbon_dioxide;
  std::vector<SensorStatus> sensors;
  std::vector<AlarmStatus> alarms;
  std::optional<bool> relay_energised;
  std::vector<ActuatorStatus> actuators{};
};

} // namespace oxherd::daemon
