#pragma once

#include <chrono>
#include <cstddef>
#include <span>
#include <vector>

#include "daemon/alarm_report/happenings.hpp"

namespace oxherd::daemon::alarm_report {

/// A flood begins with the annunciation that makes more than ten in ten minutes and is over once fewer than five fall
/// into the last ten minutes.
/// @source ISA-18.2 clause 16 and EEMUA 191 for both numbers (from memory); that the ten minutes move along with time,
///         instead of lying on a fixed grid, is a proposal of the project
inline constexpr std::size_t flood_begins_above = 10, flood_ends_below = 5;
inline constexpr std::chrono::minutes flood_window{10};

struct Flood {
  Stretch time;
  std::size_t annunciations = 0; ///< from the first of those that began it
};

/// Each watched stretch is judged by itself: a flood ends at the latest where watching does, because nothing is known
/// from there on.
/// @param times    of annunciations, ascending
/// @param watched  in order
[[nodiscard]] std::vector<Flood> floods_in(std::span<const WallTime> times, std::span<const Stretch> watched);

/// The most annunciations that any stretch of that length holds, wherever it starts.
[[nodiscard]] std::size_t most_within(std::span<const WallTime> times, std::chrono::milliseconds length);

/// How much watched time lies in those parts of the period, each `part` long from its start, that hold more than
/// `above` annunciations.
[[nodiscard]] std::chrono::milliseconds time_with_more_than(std::size_t above, std::chrono::milliseconds part,
                                                            std::span<const WallTime> times, Stretch period,
                                                            std::span<const Stretch> watched);

} // namespace oxherd::daemon::alarm_report
