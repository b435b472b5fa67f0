#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "control/programs/day_program.hpp"

namespace oxherd::control {

/// The set-point goes to the target, and stays there for the time of the soak.
struct ElapsedStep {
  double target = 0.0;
  Ramp ramp;
  Monotonic soak{0};
};

/// What a running program does after a power loss, or whenever nothing ran it for a while. As in the file.
enum class AfterOutage {
  go_on,   ///< "continue": the time of the outage does not count; every soak gets its whole time
  join,    ///< "join": as if it had run all along
  restart, ///< "restart": from the first step, beginning at what the room has now
  stop     ///< "stop": a person decides
};

/// A program that a person starts, and that ends. After the last step its target is held until a person takes it away.
struct ElapsedProgram {
  std::vector<ElapsedStep> steps;
  std::optional<double> most_per_h; ///< no step is faster, those that would jump included
  /// What a soak is there for has not happened while nothing was controlled, so it continues.
  AfterOutage after_outage = AfterOutage::go_on;
  /// After a longer one the program stops and a person is asked, whatever `after_outage` says: nobody knows what the
  /// goods went through. Proposal of the project.
  Monotonic outage_most = std::chrono::hours{1};
};

/// One run of a program: what is kept of it over a restart.
struct Run {
  enum class Phase {
    running,
    stopped,          ///< by a person; the set-point stays where it was
    stopped_by_outage ///< likewise; a person is asked what to do
  };
  Phase phase = Phase::running;
  double from = 0.0; ///< where the set-point was when it began
  Monotonic done{0}; ///< of the program's own time, which stands still while it is held or stopped
  Monotonic seen{0}; ///< until when `done` is counted
};

/// The whole time that a run takes.
[[nodiscard]] Monotonic duration_of(const ElapsedProgram& program, double from);

/// Where a run stands at `run.done`. `next` is empty in the last step; `in` is time of the program.
[[nodiscard]] SetPoint set_point_at(const ElapsedProgram& program, const Run& run);

/// A run that was told of the time up to now.
[[nodiscard]] Run advanced(Run run, Monotonic now);

/// Whether a run may go on by itself after this outage; empty: nobody can tell how long it was, so it may not.
[[nodiscard]] bool bearable(const ElapsedProgram& program, std::optional<Monotonic> outage);

/// A run after an outage, by the rule of the program; called once, after each start of the daemon.
/// @param outage   for how long nothing ran it; empty: nobody can tell
/// @param present  what the room has now, for a restart of the program
[[nodiscard]] Run after_outage(const ElapsedProgram& program, Run run, std::optional<Monotonic> outage,
                               std::optional<double> present, Monotonic now);

/// What is wrong with a program, as sentences for a person; empty: nothing.
[[nodiscard]] std::vector<std::string> problems_of(const ElapsedProgram& program);

} // namespace oxherd::control
