#pragma once

#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/cli/arguments.hpp"
#include "daemon/commission/survey.hpp"
#include "drivers/bus_address.hpp"

namespace oxherd::daemon::cli {

/// What a command line of `oxherd scan` asks for.
struct ScanCase {
  std::string bus_word; ///< as it was typed
  drivers::BusAddress bus;
  commission::SurveyPlan plan;
  commission::Hints hints;
  std::optional<std::string> profile; ///< file to write
  int profile_of = 0;                 ///< the unit that it describes
  bool force = false;
};

[[nodiscard]] std::vector<Option> scan_options();
/// The error is a sentence that names the option.
[[nodiscard]] tl::expected<ScanCase, std::string> read_scan_case(const Arguments& arguments);

} // namespace oxherd::daemon::cli
