#pragma once

#include <array>
#include <chrono>
#include <optional>
#include <string_view>

#include "daemon/records.hpp"
#include "daemon/store/sqlite.hpp"

// Steps of ten seconds, minutes and hours of readings: how many, how many bad, and of each quantity the least, the
// greatest and the mean, so that a plot of hours among many sensors, or of years, is read in a moment and hides no
// peak.
namespace oxherd::daemon::store {

/// The columns of `reading` that are rolled up, as they follow each other in `rollup`; bad readings count, their values
/// do not.
inline constexpr std::array<std::string_view, 9> rolled_columns{"oxygen",      "u_oxygen",       "po2_Pa",
                                                                "raw_V",       "temperature_K",  "humidity",
                                                                "pressure_Pa", "carbon_dioxide", "over_pressure_Pa"};
inline constexpr std::int64_t tens_ms = 10'000, minute_ms = 60'000, hour_ms = 3'600'000;

/// Readings that are sorted at once, in memory, some 100 bytes each: a minute of more is rolled up in turns, each of a
/// share of its sensors. Every turn looks at all readings of the minute.
inline constexpr std::int64_t readings_at_once_most = 100'000;

/// How long steps are kept, since the newest. Hours are never deleted.
struct RollupKeep {
  std::chrono::milliseconds tens = std::chrono::hours{48}; ///< what is plotted finely is mostly of today; proposal
  std::chrono::milliseconds minutes = std::chrono::hours{24 * 365 * 5};
};

/// 1 for a status whose readings count as bad, else 0: the SQL for a column that holds a status.
[[nodiscard]] std::string is_bad_sql(std::string_view column);

/// Rolls up the oldest minute that is complete and not rolled up yet, by tens of seconds and whole, and its hour so
/// far; deletes at most an hour of the oldest steps that are no longer kept, since a clock may be years ahead for a
/// while. One transaction.
/// @param complete_before  minutes that end then or before are complete
/// @param readings_at_once at least 1
/// @return whether there was one; call again at once
[[nodiscard]] tl::expected<bool, DbError> roll_up_next(Database& database, WallTime complete_before,
                                                       const RollupKeep& keep,
                                                       std::int64_t readings_at_once = readings_at_once_most);

/// Readings from then on have changed, or come late: their minutes are rolled up anew. Within the caller's transaction.
[[nodiscard]] tl::expected<void, DbError> roll_up_again_from(Database& database, WallTime from);

} // namespace oxherd::daemon::store
