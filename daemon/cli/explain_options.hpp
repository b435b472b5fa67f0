#pragma once

#include <span>
#include <string_view>
#include <vector>

#include "compensation/units.hpp"
#include "daemon/cli/arguments.hpp"

namespace oxherd::daemon::cli {

/// One quantity that `explain` takes as --NAME, and its standard uncertainty as --u-NAME.
struct ExplainValue {
  std::string_view name;
  compensation::Dimension dimension;
  std::string_view word; ///< what stands for the value in the help
  std::string_view help;
  std::string_view example;
  std::string_view typed_u;        ///< standard uncertainty taken for a typed value
  std::string_view assumed = "";   ///< value taken when none is typed; empty: none is taken
  std::string_view assumed_u = ""; ///< standard uncertainty of that assumed value
};

/// Every quantity, in the order of the help. Assumed uncertainties are proposals of the project for careful work with
/// ordinary probes; each one that is used is named in the output.
[[nodiscard]] std::span<const ExplainValue> explain_values();

/// The dimension of a value's uncertainty: a difference for a temperature, else the value's own.
[[nodiscard]] compensation::Dimension uncertainty_dimension(compensation::Dimension dimension);

/// Options that ask for a recorded reading, in place of typed values.
[[nodiscard]] std::span<const std::string_view> stored_options();

[[nodiscard]] std::vector<Option> explain_options();

} // namespace oxherd::daemon::cli
