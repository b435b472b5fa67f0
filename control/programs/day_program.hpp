#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "control/programs/civil_time.hpp"
#include "control/programs/ramp.hpp"
#include "control/programs/sun.hpp"

namespace oxherd::control {

/// When a step begins, every day.
struct Anchor {
  enum class To {
    clock,   ///< local civil time; see first_instant_of for the hours that come twice or not at all
    sunrise, ///< of the local date
    sunset   ///< of the local date
  };
  To to = To::clock;
  std::chrono::seconds offset{0}; ///< the time of day, 00:00 to 23:59:59; or from sunrise or sunset, -6 h to 6 h
};

/// From its beginning the set-point goes to the target and stays there until the next step begins.
struct DayStep {
  Anchor begins;
  double target = 0.0;
  Ramp ramp;
};

/// Set-points that come back every day, in the order of the day. A pure function of the time: after an outage or a hold
/// it is where it would be anyhow, and nothing is replayed.
///
/// Steps tied to the sun move through the year, so one may come to lie behind a step listed after it. The later one in
/// the list holds from its own time on, and the overtaken step is left out on that day: what is written for 08:00 holds
/// at 08:00. In polar night sunrise and sunset are both noon; in polar day sunset is the next sunrise, 12 hours before
/// noon (SunDay). Steps at sunrise or sunset overtake each other then, and night or day stays.
///
/// A step begins where the one before has come to. Durations are elapsed time: a ramp of an hour takes an hour also
/// when the clocks change during it.
struct DayProgram {
  std::vector<DayStep> steps;
  std::optional<double> most_per_h; ///< no step is faster, those that would jump included
};

/// What the time of a place is, and the sun.
struct Locality {
  OffsetAt offset_at;
  std::optional<Place> place; ///< needed by steps tied to the sun
};

/// A step that is still to come.
struct Upcoming {
  std::size_t step = 0;
  double target = 0.0;
  Monotonic in{0}; ///< from now
};

/// Where a program stands.
struct SetPoint {
  double value = 0.0;
  double rate_per_h = 0.0; ///< with its sign; zero when it stands
  std::size_t step = 0;    ///< the one in force, from 0
  double target = 0.0;     ///< of that step
  Monotonic ramp_left{0};  ///< until it is at its target
  std::optional<Upcoming> next;

  [[nodiscard]] bool ramping() const { return rate_per_h != 0.0; }
};

/// For programs without problems. Takes up to 20 microseconds with the sun, 2 without: once a second is often enough.
[[nodiscard]] SetPoint set_point_at(const DayProgram& program, const Locality& locality, WallTime now);

/// A step and the instant at which it begins.
struct Beginning {
  WallTime at;
  std::size_t step = 0;
};
/// What begins on these local dates (both included), increasing, without what is overtaken.
[[nodiscard]] std::vector<Beginning> beginnings_on(const DayProgram& program, const Locality& locality,
                                                   std::chrono::local_days first, std::chrono::local_days last);

/// What is wrong with a program, as sentences for a person; empty: nothing. Goes through the days of a leap year.
[[nodiscard]] std::vector<std::string> problems_of(const DayProgram& program, const Locality& locality);

} // namespace oxherd::control
