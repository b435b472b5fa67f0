#pragma once

#include <chrono>
#include <cstdint>
#include <optional>
#include <vector>

#include "drivers/register_bus.hpp"

namespace oxherd::daemon {

/// What an output holds: a coil (0 or 1), a register, or two, the first in the upper half.
using OutputValue = std::uint32_t;

/// What a device is to hold and is asked about afterwards. `output` identifies it: a newer value for the same output
/// replaces one that still waits.
struct OutputWrite {
  std::size_t output = 0;
  int unit = 1;
  bool is_coil = true;
  std::uint16_t address = 0;
  OutputValue value = 0;
  std::chrono::milliseconds timeout{500};
  std::uint16_t count = 1; ///< registers, 1 or 2
  /// An independent contact to look at as well.
  struct Contact {
    int unit = 1;
    drivers::Table table = drivers::Table::discrete_input;
    std::uint16_t address = 0;
  };
  std::optional<Contact> contact{};
  /// When it was decided; absent for what is merely written again or is a step of a flashing pattern.
  std::optional<std::chrono::steady_clock::time_point> decided{};
  bool put_off = false; ///< the bus thread's own note: its unit does not answer, and that has been said
};

/// What became of it. Without `error` the device has accepted the write; what it holds then is another question.
struct WriteResult {
  std::size_t output = 0;
  OutputValue value = 0;
  std::optional<drivers::BusError> error{};        ///< of the write; nothing was asked then
  std::optional<OutputValue> held{};               ///< what the device says that it holds
  std::optional<bool> contact{};                   ///< what the feedback contact shows
  std::optional<drivers::BusError> asking_error{}; ///< why one of these two is missing
  std::optional<std::chrono::microseconds> took{}; ///< from the decision until the device had accepted it
};

} // namespace oxherd::daemon
