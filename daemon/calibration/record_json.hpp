#pragma once

#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "daemon/calibration/record.hpp"

namespace oxherd::daemon {

/// Version of the JSON form. A change of meaning or of keys takes the next number; old ones stay readable.
inline constexpr int record_json_version = 1;
/// A record with ten points takes 15 kB; a longer text than this is not read.
inline constexpr std::size_t record_json_bytes_max = std::size_t{256} * 1024;

/// A record as one JSON object, SI units in its keys. Every double reads back as the very same one. NaN and the
/// infinities, which no record should hold, become null and do not read back; neither do times outside the years 0
/// to 9999. Text that is not UTF-8 is mended with U+FFFD.
[[nodiscard]] std::string to_json(const CalibrationRecord& record);

/// Reads what to_json wrote. Strict: a missing or unknown key, a wrong kind of value or another version is refused, so
/// that nothing is lost unseen.
/// @return a sentence that names the place: `points[0].values.signal_V.u: "much" is not a number`
/// @checked tests/daemon/calibration/record_json_test.cpp and, with random bytes,
///          tests/fuzz/calibration_record_fuzz.cpp
[[nodiscard]] tl::expected<CalibrationRecord, std::string> record_from_json(std::string_view text);

} // namespace oxherd::daemon
