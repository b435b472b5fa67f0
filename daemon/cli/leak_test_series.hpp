#pragma once

#include <string>
#include <vector>

#include <nlohmann/json_fwd.hpp>
#include <tl/expected.hpp>

#include "daemon/cli/leak_test_case.hpp"

namespace oxherd::daemon::cli {

/// The answers to the history requests of a leak test, which are not trusted.
struct LeakRecords {
  const nlohmann::json& room;      ///< of all sensors of the room
  const nlohmann::json& barometer; ///< of the barometer's room; the same when it is in this one
};

/// What was made of the records.
struct LeakSeries {
  std::string sensor, temperature_sensor, barometer; ///< those that were taken; the latter two of pressure alone
  bool barometer_inside = false;                     ///< its readings had the over-pressure taken off
  std::size_t left_out = 0;                          ///< bad readings of `sensor`
  double u_common = 0;                               ///< of a reading of `sensor`, as recorded
  std::vector<control::LeakSample> pressures{};
  std::vector<control::TracerSample> fractions{};
};

/// Puts the recorded readings together. Of the sensors that a sample needs the one that was read least often says when:
/// the others are taken from the straight line between their neighbours, so that no reading counts twice.
/// @return a sentence: which sensor is missing, or that one must be named
[[nodiscard]] tl::expected<LeakSeries, std::string> leak_series(const LeakTestCase& test, const LeakRecords& records);

} // namespace oxherd::daemon::cli
