#pragma once

#include <array>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "control/duty.hpp"

namespace oxherd::control {

/// What may have to hold before an actuator works.
enum class Condition {
  sealed,                       ///< a person has sealed the room, and its door has not been opened since
  door_closed,                  ///< every door contact says so
  nobody_in,                    ///< no occupancy contact says that people are in
  entry_withheld,               ///< the lock of the door is withheld from those outside
  oxygen_measured,              ///< by every cell of the room, in good quality
  carbon_dioxide_measured,      ///< likewise
  carbon_dioxide_below_ceiling, ///< its upper bound
  over_pressure_measured,
  over_pressure_within, ///< the limits that the relief valve is set to
  relief_free,          ///< the relief valve's contact says that nothing isolates it
  no_safety_alarm,      ///< of the room: each is normal, and none is out of service
  vents_closed,         ///< no actuator that airs the room is on, or held on
  lights_on,
  air_circulates,     ///< a fan that mixes the air is proven to run
  device_holds,       ///< the actuator's device confirms what it was told
  started_by_person,  ///< a person has started the run, and it has not ended
  within_longest_run, ///< it has not been on for longer than it may
  oxygen_falls,       ///< as the dilution equation forecasts
  not_tripped         ///< no trip waits for a person to release it
};
inline constexpr std::size_t condition_count = 19;
[[nodiscard]] constexpr std::size_t index_of(Condition condition) { return static_cast<std::size_t>(condition); }
/// All of them, in the order in which they are told.
[[nodiscard]] std::span<const Condition> all_conditions();

/// As in the file: "door-closed".
[[nodiscard]] std::string_view name_of(Condition condition);
[[nodiscard]] std::optional<Condition> condition_named(std::string_view name);
/// What has to hold, for a person: "the door is closed".
[[nodiscard]] std::string_view words_of(Condition condition);

/// How far a condition is known to hold.
enum class Truth {
  not_fitted, ///< the room has nothing that could tell
  holds,
  fails,
  unknown, ///< the input is there and cannot be used; counts as failing
  missed   ///< its last answer is missing, and it is not lost yet: counts as failing, but ends nothing for good
};

/// What is known of every condition for one actuator, with words where one does not hold.
struct Facts {
  std::array<Truth, condition_count> truth{}; ///< not fitted unless set
  std::array<std::string, condition_count> why{};
  void set(Condition condition, Truth is, std::string because = {}) {
    truth[index_of(condition)] = is;
    why[index_of(condition)] = std::move(because);
  }
  [[nodiscard]] Truth operator[](Condition condition) const { return truth[index_of(condition)]; }
};

/// How strictly a duty takes a condition.
enum class Need {
  none,
  if_fitted, ///< where the room has something that could tell
  always     ///< without it the actuator never works; configuration demands what it takes
};
/// The conditions that no file takes away.
/// @source what must never happen in such rooms: common practice, no source. Local rules for rooms of reduced oxygen
///         come first.
[[nodiscard]] Need need_of(Duty duty, Condition condition);

/// One condition that stands in the way, in words for a person.
struct Block {
  Condition condition;
  Truth truth = Truth::fails;
  std::string because;
  friend bool operator==(const Block&, const Block&) = default;
};

/// What keeps an actuator from working; empty: nothing does. Every condition is told, not only the first.
/// @param asked_for  what the file adds to the conditions of the duty; these always hold
/// @checked tests/control/conditions_test.cpp over every combination
[[nodiscard]] std::vector<Block> blocks(Duty duty, std::span<const Condition> asked_for, const Facts& facts);

/// Whether a condition that fails ends a run for good, until a person starts or releases it: all but those that
/// come and go in the course of a day's work.
[[nodiscard]] bool trips(Duty duty, Condition condition);
[[nodiscard]] bool trips(Duty duty); ///< whether any does

} // namespace oxherd::control
