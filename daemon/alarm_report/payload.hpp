#pragma once

#include <string>

#include "daemon/alarm_report/metrics.hpp"

namespace oxherd::daemon::alarm_report {

/// The report as one JSON object: times RFC 3339 in UTC, durations in seconds (keys end in `_s`), shares as ratios, and
/// the caution.
[[nodiscard]] std::string report_payload(const Performance& p);

} // namespace oxherd::daemon::alarm_report
