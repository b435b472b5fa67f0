#pragma once

#include <array>
#include <optional>

#include "alarms/time.hpp"

namespace oxherd::alarms {

/// Whether an alarm comes and goes again and again: a third occurrence within a minute (common practice in alarm
/// management, no source) until ten minutes without one (proposal of the project). It is reported once and changes
/// nothing in how the alarm is annunciated.
struct Chatter {
  std::array<std::optional<Monotonic>, 3> last{}; ///< of the latest occurrences, oldest first
  bool chattering = false;
  friend bool operator==(const Chatter&, const Chatter&) = default;
};

inline constexpr Monotonic chatter_window{std::chrono::seconds{60}};
inline constexpr Monotonic chatter_quiet{std::chrono::minutes{10}};

/// The condition has appeared once more.
[[nodiscard]] Chatter after_occurrence(Chatter chatter, Monotonic now);
/// What the clock alone brings: the end of chattering.
[[nodiscard]] Chatter after_quiet(Chatter chatter, Monotonic now);

} // namespace oxherd::alarms
