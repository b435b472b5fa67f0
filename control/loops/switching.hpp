#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "control/duty.hpp"

namespace oxherd::control {

/// What follows when the longest on-time has ended a run that is still wanted.
enum class AfterMost {
  rests,         ///< it may start again after its least off-time: a pulse, then time to mix
  waits_for_want ///< only when it has not been wanted for once: a run that never gets there wants a person
};

/// One switched actuator.
struct Switching {
  SwitchingTimes times{};
  AfterMost after_most = AfterMost::rests;
};

/// What is wrong with the parameters, as words; empty: nothing. `next` takes only such parameters.
[[nodiscard]] std::string_view problem_of(const Switching& rule);

struct Want {
  bool on = false;
  bool urgent =
      false; ///< an interlock or a safe state: least times, starts, staggering and the longest run are ignored
};

/// Why an actuator is not as it is wanted.
enum class Held {
  least_on,  ///< on: it has run too short a time
  least_off, ///< off: it has rested too short a time
  starts,    ///< off: it has started too often within the last hour
  most_on,   ///< off: its longest run was ended, and it is still wanted
  others     ///< off: another of its group starts first
};
/// What a person reads of it, behind the name of the actuator: "stays on for its least on-time".
[[nodiscard]] std::string_view words_of(Held why);

struct HeldBack {
  Held why = Held::least_off;
  std::optional<Monotonic> until; ///< the earliest time; empty: not by the clock alone
  friend bool operator==(const HeldBack&, const HeldBack&) = default;
};

struct SwitchingState {
  bool on = false;
  /// When it was last switched; empty: long ago if it is off. At a start of the program nobody knows: say now.
  std::optional<Monotonic> since{};
  std::vector<Monotonic> starts{}; ///< the last ones, oldest first, no more than starts_per_hour
  bool spent = false;              ///< its longest run was ended, and it has been wanted ever since
  friend bool operator==(const SwitchingState&, const SwitchingState&) = default;
};

struct SwitchingStep {
  SwitchingState state; ///< state.on is what is allowed
  std::optional<HeldBack> hold{};
  bool run_ended = false;         ///< in this step the longest on-time ended a run
  std::optional<Monotonic> due{}; ///< when the clock alone will change `on`, if what is wanted stays
};

/// One step. It switches at calls only, so a run is over by one interval between calls, unless they keep to `due`.
/// Of several reasons for a hold the one that lasts longest is told.
/// What is urgently on runs as long as it is: fresh air for people must not end with a time meant for comfort. When
/// it is only wanted again, its longest on-time counts from its start. Urgent starts count as starts.
/// @checked tests/control/loops/switching_test.cpp
[[nodiscard]] SwitchingStep next(const Switching& rule, SwitchingState state, Want want, Monotonic now);

/// Several actuators that are not to start at once: inrush current, supply of gas.
struct Stagger {
  Monotonic gap{std::chrono::seconds{10}}; ///< common practice, no source
};

struct StaggerState {
  std::optional<Monotonic> last_start{};
  std::vector<std::optional<Monotonic>> waiting_since{}; ///< of each member
  friend bool operator==(const StaggerState&, const StaggerState&) = default;
};

/// One of a group. Members keep their places in it from step to step.
struct Member {
  Switching rule;
  SwitchingState state;
  Want want;
};

struct StaggerStep {
  StaggerState state;
  std::vector<SwitchingStep> members;
};

/// One step of a whole group. Of those that could start, the one that has waited longest does (then the first in the
/// group), and no other within the gap. Nothing is ever kept from switching off. An urgent start is never delayed, but
/// the gap counts from it too. A number of members other than before begins the waiting anew.
/// @checked tests/control/loops/stagger_test.cpp
[[nodiscard]] StaggerStep next(const Stagger& rule, StaggerState state, std::span<const Member> members, Monotonic now);

} // namespace oxherd::control
