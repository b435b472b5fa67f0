#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/store/store.hpp"

namespace oxherd::daemon {

struct HistoryQuery {
  std::optional<std::string> room, sensor, alarm;
  WallTime from, to;        ///< both belong to it
  bool as_recorded = false; ///< readings: the values recorded first, although a derivation superseded them
  int limit = 1000;         ///< 1 to 1,000,000; of more the newest are given, and `truncated` tells
};

/// A stored reading, flat, SI.
struct StoredReading {
  WallTime at;
  std::string room, sensor, quality, status, reasons;
  std::optional<double> oxygen{}, u_oxygen{}, oxygen_wet{}, po2_Pa{}, raw_V{}, temperature_K{}, humidity{},
      pressure_Pa{};
  std::optional<double> carbon_dioxide{};
  std::optional<std::int64_t>
      derivation{}; ///< the newest that superseded what was recorded; its values are given, unless `as_recorded`
};

struct ReadingHistory {
  std::vector<StoredReading> readings; ///< oldest first, as recorded: a clock set back does not reorder them
  bool truncated = false;
};
struct AlarmHistory {
  std::vector<AlarmRecord> records; ///< by sequence number
  bool truncated = false;
};

/// Read-only queries on a connection of their own; safe beside a running daemon and without one.
[[nodiscard]] tl::expected<ReadingHistory, StoreError> reading_history(const std::filesystem::path& state_dir,
                                                                       const HistoryQuery& query);
[[nodiscard]] tl::expected<AlarmHistory, StoreError> alarm_history(const std::filesystem::path& state_dir,
                                                                   const HistoryQuery& query);

} // namespace oxherd::daemon
