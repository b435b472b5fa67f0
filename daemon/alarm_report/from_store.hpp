#pragma once

#include <filesystem>
#include <optional>
#include <string>

#include <tl/expected.hpp>

#include "daemon/store/history.hpp"

namespace oxherd::daemon {

struct AlarmReportQuery {
  std::optional<std::string> room;
  WallTime from, to; ///< the latter does not belong to it
};

/// The report of daemon/alarm_report/payload.hpp over what is on record: read-only, safe beside a running daemon and
/// without one. Refused rather than cut short when the time holds more than a million records, and for
/// a room of which nothing was ever recorded.
[[nodiscard]] tl::expected<std::string, StoreError> alarm_report_of(const std::filesystem::path& state_dir,
                                                                    const AlarmReportQuery& query);

} // namespace oxherd::daemon
