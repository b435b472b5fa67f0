#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/commission/guess.hpp"
#include "daemon/commission/survey.hpp"

namespace oxherd::daemon::cli {

/// A unit with what its registers seem to hold.
struct ScannedUnit {
  commission::SurveyedUnit seen;
  std::vector<commission::Finding> findings;
  std::optional<std::string> profile; ///< there already, and reads exactly this
};

/// One unit for a person: its registers, and each value with every way to read it.
[[nodiscard]] std::string scanned_unit_text(const ScannedUnit& unit);

struct ScanResult {
  std::string bus;
  commission::Survey survey; ///< its units moved on to `units`
  std::vector<ScannedUnit> units;
  double seconds = 0.0;
};
/// The whole scan for a program, one line.
[[nodiscard]] std::string scan_json(const ScanResult& result);

} // namespace oxherd::daemon::cli
