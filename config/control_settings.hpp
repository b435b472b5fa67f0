#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "control/actuator.hpp"
#include "control/loops/on_off.hpp"
#include "control/loops/pid.hpp"
#include "control/loops/time_proportioned.hpp"
#include "control/programs/program.hpp"

namespace oxherd::config {

/// Where an output is written: a coil, or a holding register.
struct WrittenAt {
  bool is_coil = true;
  std::uint16_t address = 0;
  friend bool operator==(const WrittenAt&, const WrittenAt&) = default;
};

/// What a gas brings into a room, for the forecast of how fast oxygen falls.
struct GasSupply {
  double flow_m3_per_s = 0.0;
  double oxygen = 0.005; ///< dry fraction; 0.5 % is usual for a nitrogen generator (common practice)
  /// Until the first of it shows at the cells: mixing, a sampling line. Proposal of the project.
  control::Monotonic dead_time{std::chrono::minutes{10}};
  friend bool operator==(const GasSupply&, const GasSupply&) = default;
};

/// kind = "actuator": a valve, fan or heater that acts on the air of a room. A coil switches it; a register takes its
/// output from 0 % to 100 %.
struct Actuator {
  std::string room;
  WrittenAt at;
  control::ActuatorRules rules;
  /// Whether the coil is on while it works. Off for what airs a room, so that a module that loses its power or the
  /// daemon lets the air in; see its table in the file.
  bool works_energised = true;
  std::uint16_t at_0 = 0, at_100 = 10000; ///< what the register holds at the ends of the output
  std::optional<GasSupply> supply{};      ///< of a purge
  double ceiling = 0.0;                   ///< of dosed carbon dioxide: no more above this, ratio
  std::string group;                      ///< of those that do not start together; empty: none
  std::string name{};                     ///< of its output
};

/// How a loop comes from its value to an output.
enum class LoopMethod {
  on_off,            ///< a coil, with a switching band
  time_proportioned, ///< a coil, in pulses of a controller's output
  continuous         ///< a register, with a controller
};
[[nodiscard]] std::string_view name_of(LoopMethod method); ///< as in the file: "on-off" ...

/// A load that is known by a contact of the room: what it adds to the controller's output while it is there.
struct KnownLoad {
  bool lights = false; ///< of the room
  double output = 0.0; ///< -1 to 1
  friend bool operator==(const KnownLoad&, const KnownLoad&) = default;
};

/// [room.R.loop.L]: holds one value of the room by one actuator.
struct Loop {
  std::string name;
  control::ProcessValue holds = control::ProcessValue::temperature;
  std::string output; ///< name of an output of kind "actuator" of the same room
  LoopMethod method = LoopMethod::on_off;
  std::optional<double> set_point{}; ///< SI; empty: by the program
  std::optional<control::Program> program{};
  control::OnOff on_off{};
  control::Pid pid{};
  control::TimeProportioned pulses{};
  std::optional<KnownLoad> known_load{};
  control::Monotonic every{std::chrono::seconds{1}}; ///< between two steps of a controller
};

} // namespace oxherd::config
