#pragma once

#include <array>
#include <chrono>
#include <cstdint>
#include <optional>

namespace oxherd::demo {

/// A relay module: eight coils and sixteen holding registers. Coil on is healthy; when nobody writes for ten seconds of
/// real time its own watchdog drops every coil, as a relay module must (de-energise to trip), and sets its analogue
/// outputs to 0.
class OutputModule {
public:
  using Monotonic = std::chrono::milliseconds; ///< real time since some start, given by the caller
  static constexpr Monotonic watchdog{10000};
  static constexpr std::size_t coil_count = 8;
  static constexpr std::size_t register_count = 16;

  /// @param analogue_outputs  so many holding registers, from 0 on, drive something
  explicit OutputModule(std::size_t analogue_outputs = 0) : analogue_outputs_{analogue_outputs} {}

  void write_coil(std::size_t coil, bool on, Monotonic now);
  void note_written(Monotonic now) { written_ = now; } ///< somebody is there, though nothing was taken
  void write_register(std::size_t index, std::uint16_t value, Monotonic now);
  /// Lets the watchdog look at the clock. Returns true when it has just dropped something.
  bool tick(Monotonic now);
  [[nodiscard]] const std::array<bool, coil_count>& coils() const { return coils_; }
  [[nodiscard]] const std::array<std::uint16_t, register_count>& registers() const { return registers_; }

private:
  std::array<bool, coil_count> coils_{}; // off until somebody writes: no writer is no watch
  std::array<std::uint16_t, register_count> registers_{};
  std::size_t analogue_outputs_;
  std::optional<Monotonic> written_;
};

} // namespace oxherd::demo
