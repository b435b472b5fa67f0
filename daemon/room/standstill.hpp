#pragma once

#include <chrono>
#include <string>

#include "alarms/time.hpp"
#include "config/settings.hpp"

namespace oxherd::daemon {

/// How long one number of a device has stood unchanged, and how long its numbers stood before: an input that is frozen
/// answers for ever with the last thing it knew. Compared are the numbers as they came, before any conversion.
struct Standstill {
  double raw = 0.0;
  alarms::Monotonic since{0}, last{0}; ///< first and last sample with this number
  int polls = 0;                       ///< with this number; 0: none has come yet
  alarms::Monotonic longest{0};        ///< that a number stood before it changed
  int changes = 0;                     ///< seen so far
};

/// Takes one more number. A pause of five minutes or more begins anew.
[[nodiscard]] Standstill next(Standstill state, double raw, alarms::Monotonic at);

/// Whether the number has stood for too long. Without a time in the settings: for half an hour and 60 polls, and ten
/// times longer than any number of this point before, of which at least 30 must have been seen: a coarse input in a
/// quiet room stands for long, and one that always flickered does not (proposals of the project). A number of exactly
/// zero is never stuck: it is a dead cell or no oxygen, and must go on tripping what it trips.
[[nodiscard]] bool is_stuck(const Standstill& state, const config::StuckAfter& settings);

/// What to say of it.
[[nodiscard]] std::string stuck_text(const std::string& point, const Standstill& state);

} // namespace oxherd::daemon
