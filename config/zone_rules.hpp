#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "config/posix_zone.hpp"

namespace oxherd::config {

/// An instant and the offset from UTC that a zone has then, in seconds.
struct ZonedInstant {
  std::int64_t utc_s = 0;
  std::int64_t offset_s = 0;
};

/// The instants that a local time of a zone can stand for.
struct LocalInstants {
  std::optional<ZonedInstant> first; ///< none: the clocks skipped this time
  std::optional<ZonedInstant> last;  ///< there when the time came twice
};

/// The offsets from UTC of one time zone, past and future.
/// @source  RFC 9636 (The Time Zone Information Format, TZif), sections 3.1 to 3.3
/// @checked tests/daemon/logfile/zone_rules_test.cpp; zones.py beside it, against Python's zoneinfo
class ZoneRules {
public:
  /// From the bytes of a TZif file of version 2 or later. The error is the end of a sentence: "...". Files that count
  /// leap seconds are refused: the clocks of loggers do not.
  [[nodiscard]] static tl::expected<ZoneRules, std::string> parse(std::string_view bytes);
  /// The span that has this instant. What comes after the last transition of the file follows its rule.
  [[nodiscard]] OffsetSpan at(std::int64_t utc_s) const;
  /// @param local_s  what a clock of the zone shows, in seconds since its 1970-01-01T00:00:00
  [[nodiscard]] LocalInstants instants_of(std::int64_t local_s) const;

private:
  std::int64_t first_offset_s_ = 0;
  std::vector<std::int64_t> times_s_; ///< of the transitions, increasing
  std::vector<std::int64_t> offsets_s_;
  std::optional<PosixZone> rule_;
};

} // namespace oxherd::config
