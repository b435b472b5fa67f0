#pragma once

#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "config/load.hpp"
#include "config/profile.hpp"
#include "config/settings.hpp"
#include "config/signal_rules.hpp"
#include "config/table_reader.hpp"

namespace oxherd::config {

// One function per table of the file. Each reports to the reader's problems and returns what could be read; the result
// counts only when no error was reported.

[[nodiscard]] Site read_site(TableReader in);
[[nodiscard]] Mqtt read_mqtt(TableReader in, const Site& site);
/// Whether a topic can start so: only plain levels, no wildcard, no empty one, nothing reserved for brokers ($SYS).
[[nodiscard]] bool is_topic_prefix(std::string_view prefix);
/// "PREFIX/SITE": the daemon publishes below it.
[[nodiscard]] std::string own_topic(const Mqtt& mqtt, const Site& site);
[[nodiscard]] Store read_store(TableReader in);
[[nodiscard]] std::optional<Http> read_http(TableReader in); ///< none: switched off
[[nodiscard]] Bus read_bus(const std::string& name, TableReader in);

/// What a sensor's table may refer to.
struct Surroundings {
  const Site& site;
  const std::vector<Bus>& buses;
  ProfileShelf& profiles;
  Regime regime = Regime::occupied;             ///< of the sensor's room
  bool answers_for_outputs = false;             ///< the room does, see answers_for
  const std::vector<Output>* outputs = nullptr; ///< for its loops
};
[[nodiscard]] Room read_room(const std::string& name, TableReader in, const Surroundings& around);
[[nodiscard]] Sensor read_sensor(const std::string& name, TableReader in, const Surroundings& around);
/// @param unit  what its signals are, and those of its calibration; the results hold them in SI, volt or ratio
[[nodiscard]] CellSettings read_cell(TableReader in, const Site& site, Regime regime = Regime::occupied,
                                     SignalUnit unit = SignalUnit::volts);
/// The keys of a cell's table that say how it is looked after; `cell` comes with its model.
void read_upkeep(TableReader& in, Regime regime, const SignalRules& rules, CellSettings& cell);
[[nodiscard]] CalibrationSettings read_calibration(TableReader in, const Site& site, const CellSettings& cell,
                                                   SignalUnit unit = SignalUnit::volts);
[[nodiscard]] AlarmSettings read_alarm(const std::string& name, TableReader in, Regime regime);
/// The alarm that every room has: announced when nobody can say what its air is.
[[nodiscard]] AlarmSettings not_monitored_alarm(Regime regime);
void adjust_not_monitored(TableReader in, AlarmSettings& alarm);
/// The alarm of a room in which more than one channel votes: one of them is lost.
[[nodiscard]] AlarmSettings degraded_alarm();
void adjust_degraded(TableReader in, AlarmSettings& alarm);
/// The alarm of a room that answers for an output: it is not known to do what was decided.
[[nodiscard]] AlarmSettings output_lost_alarm();
void adjust_output_lost(TableReader in, AlarmSettings& alarm);
/// The alarm of a room with a gas or a scrubber: an interlock has stopped it until a person releases it.
[[nodiscard]] AlarmSettings control_tripped_alarm();
void adjust_control_tripped(TableReader in, AlarmSettings& alarm);
[[nodiscard]] Output read_output(const std::string& name, TableReader in, const std::vector<Bus>& buses);

/// What an output of kind "actuator" has beyond its room and its place; `at` is what read these.
[[nodiscard]] Actuator read_actuator(TableReader& in, std::string room, WrittenAt at);
[[nodiscard]] std::span<const std::string_view> actuator_keys();

[[nodiscard]] Loop read_loop(const std::string& name, TableReader in, const Site& site,
                             const std::vector<Output>& outputs);
/// What a value of a program can be.
struct ProgramValue {
  QuantityRule set_point, distance;
  std::string_view example;
};
[[nodiscard]] control::Program read_program(TableReader in, const ProgramValue& of, const Site& site);

/// The bus of that name; a problem at `key` when there is none.
[[nodiscard]] const Bus* find_bus(TableReader& in, std::string_view key, const std::vector<Bus>& buses);
/// `unit`: the Modbus unit identifier, in the span that the bus permits.
[[nodiscard]] int read_unit(TableReader& in, const Bus* bus);

/// Everything that concerns more than one table: references, votes, limits of occupied rooms, shared coils.
void cross_check(const Settings& settings, const Table& root, Problems& problems, Purpose purpose);

} // namespace oxherd::config
