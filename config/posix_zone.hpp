#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <string_view>

#include <tl/expected.hpp>

namespace oxherd::config {

/// A span of time in which one offset from UTC holds: from `begin_s` on, no longer at `end_s`. Seconds since
/// 1970-01-01T00:00:00Z; the offset is local time less UTC, in seconds.
struct OffsetSpan {
  /// Far outside any time, and no sum of it with an offset overflows.
  static constexpr std::int64_t ever_s = std::numeric_limits<std::int64_t>::max() / 4;
  std::int64_t begin_s = -ever_s;
  std::int64_t end_s = ever_s;
  std::int64_t offset_s = 0;
};

/// The largest offset that a zone may have: 25:59:59 (RFC 9636, section 3.2, utoff).
inline constexpr std::int64_t zone_offset_s_max = 26 * 3600 - 1;

/// A rule for every year, such as "CET-1CEST,M3.5.0,M10.5.0/3".
/// @source POSIX.1-2017, Base Definitions 8.3, TZ, with the hours of RFC 9636, section 3.3.1 (-167 to 167)
class PosixZone {
public:
  /// The error is the end of a sentence: "...".
  [[nodiscard]] static tl::expected<PosixZone, std::string> parse(std::string_view text);
  /// The span that has this instant. For years 1 to 32766.
  [[nodiscard]] OffsetSpan at(std::int64_t utc_s) const;

private:
  /// A day of each year and a local time of that day.
  struct Change {
    enum class Count { julian, zero_based, weekday };
    Count count = Count::weekday;
    int day = 0; ///< of the year; of the week (0: Sunday) for `weekday`
    int month = 0, week = 0;
    std::int64_t time_s = 7200; ///< two in the morning, unless stated
  };
  friend struct PosixZoneText;
  [[nodiscard]] static std::int64_t local_s(const Change& change, int year);

  std::int64_t standard_s_ = 0;
  std::int64_t summer_s_ = 0;
  std::optional<std::array<Change, 2>> changes_; ///< to summer time and back; none: there is no summer time
};

} // namespace oxherd::config
