#pragma once

#include <optional>

#include "alarms/alarm.hpp"

namespace oxherd::alarms {

/// The earliest time at which the clock alone may change an alarm: a delay, a timer or an average goes on although no
/// new sample has come. Evaluations before that time, with the input of the last one, would change nothing; so whoever
/// runs through recorded data may leave them out. It may be earlier than the change, and lie in the past, but is never
/// later. Empty: the clock alone changes nothing.
/// @param state      as the last evaluation or act left it
/// @param evaluated  when the alarm was last evaluated
/// @checked tests/alarms/due_test.cpp, against evaluating at every tick
[[nodiscard]] std::optional<Monotonic> due(const Alarm& alarm, const AlarmState& state, Monotonic evaluated);

/// The earlier of two times that may be absent.
[[nodiscard]] constexpr std::optional<Monotonic> earlier(std::optional<Monotonic> a, std::optional<Monotonic> b) {
  if (!a || !b) return a ? a : b;
  return *b < *a ? b : a;
}

} // namespace oxherd::alarms
