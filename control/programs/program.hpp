#pragma once

#include <optional>
#include <variant>

#include "control/programs/day_program.hpp"
#include "control/programs/elapsed_program.hpp"

namespace oxherd::control {

/// A course of set-points for one loop.
using Program = std::variant<DayProgram, ElapsedProgram>;

/// A person has frozen the set-point.
struct Hold {
  double value = 0.0;
  std::optional<Monotonic> until; ///< empty: until a person lets it go on
};

/// What is kept of a program, over restarts too. The store re-bases every Monotonic in it.
struct ProgramState {
  std::optional<Hold> hold;
  std::optional<Run> run;      ///< of an elapsed program, once a person has started it
  std::optional<double> given; ///< the set-point given out last, for the greatest rate
  Monotonic given_at{0};
};

enum class ProgramPhase {
  waiting,          ///< an elapsed program that nobody has started: there is no set-point
  following,        ///< the set-point follows the program
  held,             ///< a person has frozen it
  finished,         ///< an elapsed program is over; its last target stands
  stopped,          ///< a person has stopped it; the set-point stands where it was
  stopped_by_outage ///< likewise after an outage: a person is to decide
};

/// What is known at one time.
struct ProgramInput {
  Monotonic now{0};
  WallTime wall;
  std::optional<double> process_value; ///< what the room has; empty: not known
};

struct ProgramOutput {
  ProgramState state;
  ProgramPhase phase = ProgramPhase::waiting;
  /// What the loop is to hold, and what limits may follow. With a greatest rate its value may still be on the way to
  /// `program_value`: it begins at the process value, so that a room that was left to itself is not driven there at
  /// once. While it is held or stopped `next` and `ramp_left` tell what comes once the program goes on; of a day
  /// program, which is joined, by the clock.
  std::optional<SetPoint> set_point;
  double program_value = 0.0; ///< what the program or the hold says for now
};

/// One step, at any times that do not go back. What comes out does not depend on how often it is called, but for the
/// way from the process value to the program, which is straight between calls.
[[nodiscard]] ProgramOutput next(const Program& program, ProgramState state, const Locality& locality,
                                 const ProgramInput& in);

// What a person does. Each is a step of the state alone.

/// Starts an elapsed program from its first step, also one that runs, is held, stopped or finished.
/// @param from  the set-point or process value at which the first ramp begins
[[nodiscard]] ProgramState started(ProgramState state, double from, Monotonic now);
/// Freezes the set-point at this value (the present one): for so long, or until it is resumed.
[[nodiscard]] ProgramState held(ProgramState state, double value, Monotonic now,
                                std::optional<Monotonic> duration = {});
/// Ends a hold or a stop. A day program is joined where the clock has it; an elapsed one goes on where it stood.
[[nodiscard]] ProgramState resumed(ProgramState state, Monotonic now);
/// Stops an elapsed program where it is.
[[nodiscard]] ProgramState stopped(ProgramState state, Monotonic now);

/// The state after nothing ran for a while; called once after each start of the daemon. The set-point begins anew at
/// the process value, an elapsed program follows its rule (after_outage of a run), and what a person holds stays held.
/// After an outage that is too long a held run does not go on by itself when its hold is over.
[[nodiscard]] ProgramState after_outage(const Program& program, ProgramState state, std::optional<Monotonic> outage,
                                        std::optional<double> present, Monotonic now);

} // namespace oxherd::control
