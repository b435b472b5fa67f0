#pragma once

#include <chrono>
#include <optional>

#include "config/settings.hpp"

namespace oxherd::config {

/// Response time t90 assumed of a cell or probe that states none: 20 s, the slow end of galvanic cells at 25 °C (common
/// practice).
inline constexpr std::chrono::milliseconds assumed_response{20000};
/// Longest time between two evaluations by the clock.
inline constexpr std::chrono::milliseconds evaluation_tick{500};
/// Where people work, gas at the cell should reach the horn within this (proposal of the project).
inline constexpr std::chrono::milliseconds announcement_at_most{30000};

/// Worst case from gas at the cell to the horn: response + poll + window of a rate + on-delay + tick. Empty for an
/// alarm without a number or without a sensor, and for an average, which waits for no single value.
[[nodiscard]] std::optional<std::chrono::milliseconds> time_to_announce(const Room& room, const AlarmSettings& alarm);

} // namespace oxherd::config
