#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "daemon/alarm_report/happenings.hpp"

namespace oxherd::daemon::alarm_report {

/// So long without a recorded reading counts as time in which nothing watched. Proposal of the project: a restart does
/// not reach it, and a poll takes a second by default.
inline constexpr std::chrono::minutes unwatched_at_least{5};

/// The parts of `period` in which readings were recorded, in order, with gaps of at least `unwatched_at_least` between
/// them. Gaps shorter than that do not show, at the ends of the period neither.
/// @param minutes  since 1970, ascending, of which a reading was recorded
/// @param records  of the journal, in any order: a record close to a reading shows that the daemon ran then, too
[[nodiscard]] std::vector<Stretch> watched_stretches(std::span<const std::int64_t> minutes,
                                                     std::span<const AlarmRecord> records, Stretch period);

/// What of `period` is not in `watched`.
[[nodiscard]] std::vector<Stretch> gaps_between(std::span<const Stretch> watched, Stretch period);

/// How much of `time` lies in the stretches, which are in order and do not overlap.
[[nodiscard]] std::chrono::milliseconds overlap(std::span<const Stretch> stretches, Stretch time);
[[nodiscard]] bool lies_in(std::span<const Stretch> stretches, WallTime at);

} // namespace oxherd::daemon::alarm_report
