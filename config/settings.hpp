#pragma once

#include <chrono>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "alarms/alarm.hpp"
#include "alarms/entry_lock.hpp"
#include "alarms/quality.hpp"
#include "alarms/regime.hpp"
#include "alarms/voting.hpp"
#include "compensation/carbon_dioxide.hpp"
#include "compensation/cell.hpp"
#include "config/notify_settings.hpp"
#include "config/output_settings.hpp"
#include "config/seldom.hpp"
#include "drivers/bus_address.hpp"
#include "drivers/register_map.hpp"

namespace oxherd::config {

/// What a sensor can measure. `oxygen` is a cell's signal when the sensor has a cell, otherwise a reported fraction.
/// From `door` on they are contacts, see contacts() in measurands.hpp: 1 for what its name says.
enum class Measurand {
  oxygen,
  temperature,
  humidity,
  pressure,
  sea_level_pressure,
  carbon_dioxide,
  over_pressure, ///< of the room against its surroundings
  door,          ///< open
  occupancy,     ///< people are in
  lights,        ///< on
  air_flow,      ///< a fan moves air
  relief_valve   ///< isolated, so that it cannot open
};
[[nodiscard]] std::string_view name_of(Measurand measurand); ///< as in the file: "oxygen", "carbon-dioxide", ...

/// How a room is used when nobody has said otherwise; decides the defaults of its alarms.
using alarms::name_of;
using alarms::Regime;

/// Who calibrates, as certificates name it; what is empty is named as not stated.
struct Issuer {
  std::string organisation; ///< that performs the calibrations
  std::string place;        ///< where; empty: the room of the sensor
  std::string owner;        ///< of the cells
};

/// [site]
struct Site {
  std::string name;
  Elevation elevation;
  TimeZone zone;                        ///< key `time_zone`: of hours that the file names
  std::optional<control::Place> place;  ///< keys `latitude`, `longitude`: for programs that follow the sun
  std::string emergency = "112";        ///< number named in alarm messages
  std::optional<std::string> barometer; ///< "room/sensor" that gives the station pressure of every room without its own
  Issuer issuer;                        ///< keys `organisation`, `place`, `owner`
};

/// The site's clock and place, for programs.
[[nodiscard]] control::Locality locality_of(const Site& site);

/// [mqtt.sparkplug]: the same as Sparkplug B, on a connection of its own.
struct Sparkplug {
  std::string group; ///< the Sparkplug group; the site is its edge node
  friend bool operator==(const Sparkplug&, const Sparkplug&) = default;
};

/// [mqtt]; absent: the daemon runs without a broker.
struct Mqtt {
  std::string broker; ///< mqtt://host:port or mqtts://host:port
  std::string prefix = "oxherd";
  std::string client_id; ///< default: oxherd-<site>
  std::optional<std::string> user;
  std::optional<std::string> password_file; ///< read at each connect; must not be readable by others
  std::optional<std::string> ca_file;       ///< for mqtts; default: the system's certificates
  std::optional<std::string> certificate_file, key_file;
  std::chrono::seconds keep_alive{15};
  /// How long readings of a sensor may wait to be published together. The default is the project's: it
  /// saves most of what messages cost, longer waits save little more, and who looks sees what is two seconds old.
  std::chrono::milliseconds pack{2000};
  /// Packs kept on disk while the broker is away; the oldest are dropped and counted. The default is the project's: a
  /// day of eleven sensors, however often they are read, half a GB.
  int queue_max = 500'000;
  std::optional<Sparkplug> sparkplug; ///< absent: nothing goes out as Sparkplug
  friend bool operator==(const Mqtt&, const Mqtt&) = default;
};

/// [store]
struct Store {
  // Proposals of the project. What a year of readings takes is in README, "What is recorded".
  std::chrono::hours keep_raw{24 * 90};
  std::chrono::hours keep_readings{24 * 365};
  std::chrono::hours keep_minutes{24 * 365 * 5}; ///< least, greatest and mean of each minute; of hours for ever
  double keep_free = 0.05; ///< of the file system: when less is free, the oldest measurements go before their time
  int queue_max = 20000;
};

/// [bus.NAME]
struct Bus {
  std::string name;
  drivers::BusAddress address;
  std::chrono::milliseconds timeout{500};
  int retries = 1;
  std::chrono::milliseconds back_off_max{30000};
  drivers::ReadLimits limits;
};

/// One value that a sensor's register map delivers, in the order of RegisterMap::points.
struct MeasuredPoint {
  Measurand measurand = Measurand::oxygen;
  double u_si = 0.0; ///< standard uncertainty of the input, SI unit (kelvin, pascal, ratio, volt)
};

/// What a status bit of a device means, in the order of RegisterMap::status.
struct StatusMeaning {
  alarms::Status status = alarms::Status::failure;
  std::string text;
};

/// How often a cell is to be looked after and how long it may be used. Empty: "never", it is not asked for. The
/// defaults are proposals of the project, no published source: the intervals those of a room with people in it, the age
/// that of a galvanic cell in air; read_cell puts others in their place for a sealed room and for zirconia.
struct CellUpkeep {
  std::optional<std::chrono::days> check_every{30}; ///< shown a gas of known fraction
  std::optional<std::chrono::days> calibrate_every{90};
  std::optional<std::chrono::days> permitted_age{730}; ///< since its first use
  /// Absent: its first record counts.
  std::optional<std::chrono::sys_time<std::chrono::milliseconds>> first_used;
  friend bool operator==(const CellUpkeep&, const CellUpkeep&) = default;
};

/// What a new cell may give in air, as its data sheet says.
struct SignalInAir {
  Signal low, high;
  friend bool operator==(const SignalInAir&, const SignalInAir&) = default;
};

/// How an oxygen cell is built and what is permitted of it.
struct CellSettings {
  compensation::Cell cell;
  Uncertain<Signal> nominal_zero;
  std::string serial;
  Signal dead_below =
      millivolts(0.1);           ///< at or below zero + this: "dead cell or no oxygen", the value stands and trips
  double drift_per_month = 0.01; ///< relative loss of sensitivity expected, widens u since calibration
  /// These two: see compensation::SignalErrors. None unless the file states them: that of the input is mostly in the
  /// profile's u already, and a data sheet's linearity holds for the span it names.
  Signal resolution;
  double linearity = 0.0;
  CellUpkeep upkeep;
  std::optional<SignalInAir> signal_in_air; ///< absent: any signal is believed of a new cell
  std::chrono::seconds stable_for{120};     ///< how long its signal must be level before a calibration point is taken
};

/// A calibration as the file gives it; one in the store that is newer wins.
struct CalibrationSettings {
  compensation::Calibration calibration;
  std::optional<std::chrono::sys_time<std::chrono::milliseconds>> at;
  std::string by;
};

/// After which time of one and the same number an input counts as stuck. Without either it is learned, see
/// daemon/room/standstill.hpp.
struct StuckAfter {
  std::optional<std::chrono::milliseconds> stated;
  bool never = false;
};

/// [room.R.sensor.S]
struct Sensor {
  std::string name;
  std::string bus;
  int unit = 1;
  std::string profile;
  std::chrono::milliseconds every{1000};
  std::chrono::milliseconds timeout{500};
  int retries = 1;
  drivers::ReadLimits limits;
  drivers::RegisterMap map; ///< only the points that `measures` asks for
  std::vector<MeasuredPoint> points;
  std::vector<StatusMeaning> status;
  Seldom<CellSettings> cell; ///< oxygen sensors that give a signal
  Seldom<CalibrationSettings> calibration;
  StuckAfter stuck_after;
  bool reports_dry = false;                        ///< oxygen transmitters without a cell: basis they report on
  std::optional<compensation::NdirReference> ndir; ///< CO2 probe without pressure correction of its own
};

/// Which quantity an alarm looks at.
enum class AlarmQuantity { oxygen, oxygen_partial_pressure, carbon_dioxide, door, monitoring };
/// As the file names it: "oxygen-partial-pressure".
[[nodiscard]] std::string_view name_of(AlarmQuantity quantity);

/// Hours in which an alarm of the process is suppressed by design, because its condition means nothing then.
struct SuppressedHours {
  WeeklyHours hours; ///< of the site's zone; never all of the day
  std::string because;
};

/// [room.R.alarm.A]; the rule's numbers are in SI (ratio, pascal).
struct AlarmSettings {
  std::string name; ///< "low-oxygen"
  AlarmQuantity quantity = AlarmQuantity::oxygen;
  alarms::Alarm alarm;
  std::vector<Regime> regimes;                ///< in which it is in force; none: in all, see alarms::in_force
  std::optional<SuppressedHours> suppressed;  ///< never of a safety alarm
  std::optional<std::string> override_reason; ///< given when a limit is laxer than the regime permits
};

/// [room.R]
struct Room {
  std::string name;
  Regime regime = Regime::occupied;
  alarms::Scheme oxygen_vote = alarms::Scheme::one_of_one;
  alarms::Scheme carbon_dioxide_vote = alarms::Scheme::one_of_one;
  std::vector<Sensor> sensors;
  std::vector<AlarmSettings> alarms;
  /// "room/sensor" the ambient inputs come from; empty: the room's own probe, then (pressure) the site's barometer.
  std::optional<std::string> temperature_from, humidity_from, pressure_from;
  Uncertain<Temperature> assumed_temperature{celsius(20.0), 5.0}; ///< when no probe has ever answered
  double coverage_factor = 2.0;                                   ///< k of the guard band
  double expanded_oxygen_max = 0.007;          ///< wider than this where people may be: not monitored
  std::optional<alarms::EntryLock> entry_lock; ///< absent: the room's door has no lock to withhold
  std::vector<Loop> loops{};
  std::optional<double> volume_m3{}; ///< free of what stands in it; needed where it is purged
  double mixing = 1.0;               ///< K of the dilution equation: 1 is well mixed, 2 to 3 poorly (common practice)
  /// Either way; near what relief valves of sealed rooms are set to (common practice, no source).
  double over_pressure_most_Pa = 250.0;
};

/// The room of that name; null where there is none.
[[nodiscard]] const Room* room_named(const std::vector<Room>& rooms, std::string_view name);

/// The whole file, checked.
/// [http]: the page and the interface for programs; by default for this machine alone.
struct Http {
  std::string host = "127.0.0.1"; ///< a numeric address
  int port = 8120;                ///< proposal of the project
  std::vector<std::string> names; ///< host names under which it may be asked for, beside numeric addresses
  std::optional<std::string> certificate_file, key_file; ///< PEM; needed off the loopback interface
  bool view_without_sign_in = true;                      ///< from this machine; changes always need a person
  friend bool operator==(const Http&, const Http&) = default;
};

struct Settings {
  std::string file;
  Site site;
  std::optional<Mqtt> mqtt;
  Store store;
  std::vector<Bus> buses;
  std::vector<Room> rooms;
  std::vector<Output> outputs;
  std::optional<Notify> notify;      ///< absent: nobody is told of alarms
  std::optional<Http> http = Http{}; ///< absent: there is no page
  std::optional<Watcher> watcher;    ///< absent: nobody learns from outside that the daemon is silent
};

} // namespace oxherd::config
