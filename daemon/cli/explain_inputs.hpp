#pragma once

#include <optional>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "compensation/cell.hpp"
#include "daemon/cli/arguments.hpp"

namespace oxherd::daemon::cli {

/// The gas at one place and time, with the words that say where its numbers come from.
struct TypedGas {
  compensation::GasConditions gas;
  std::optional<Elevation> elevation;
  bool pressure_measured = false;
  std::string pressure_from; ///< "measured", "standard atmosphere (ISO 2533) at 640 m", ...
};

/// Everything typed for one reading, in SI.
struct ExplainCase {
  compensation::Cell cell;
  compensation::Calibration calibration;
  Uncertain<Signal> signal;
  TypedGas now;
  TypedGas at_calibration;          ///< of the span point
  std::vector<std::string> assumed; ///< what was taken because it was not typed: "u of signal: 0.02 mV"
};

/// Reads the options of `explain`. Reports everything that is missing, impossible or in a wrong unit, a sentence each.
[[nodiscard]] tl::expected<ExplainCase, std::vector<std::string>> read_explain_case(const Arguments& arguments);

} // namespace oxherd::daemon::cli
