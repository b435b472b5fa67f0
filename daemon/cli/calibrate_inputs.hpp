#pragma once

#include <optional>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>
#include <tl/expected.hpp>

#include "daemon/cli/arguments.hpp"

namespace oxherd::daemon::cli {

/// One gas to be put on the cell, as the steps of the daemon take it.
struct CalibrationGas {
  std::string kind; ///< "fresh-air", "nitrogen", "span-gas"
  nlohmann::json step;
};

/// What was typed for `oxherd calibrate`.
struct CalibrateCase {
  std::string room, sensor, author, reason, act;
  std::vector<CalibrationGas> gases; ///< in the order in which they are put on; one is entered by hand when typed
  bool entered = false;              ///< signal and conditions were typed: nothing is measured
  std::optional<std::int64_t> supersedes, withdrawn;
  bool dry_run = false, yes = false;
  double give_up_s = 900.0;
};

[[nodiscard]] std::vector<Option> calibrate_options();

/// Reads the options; every problem is a sentence.
[[nodiscard]] tl::expected<CalibrateCase, std::vector<std::string>> read_calibrate_case(const Arguments& arguments,
                                                                                        const std::string& login);

} // namespace oxherd::daemon::cli
