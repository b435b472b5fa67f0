#pragma once

#include <string>
#include <utility>
#include <vector>

#include "compensation/oxygen_reading.hpp"
#include "daemon/cli/explain_inputs.hpp"

namespace oxherd::daemon::cli {

inline constexpr double coverage_factor = 2.0; ///< k of every expanded uncertainty that explain prints

/// One line of the uncertainty budget.
struct BudgetLine {
  compensation::Input input;
  double contribution = 0.0; ///< |c| u, as a fraction of gas
  double share = 0.0;        ///< of the variance, 0 to 1
};

/// The inputs that contribute at all, the largest first.
[[nodiscard]] std::vector<BudgetLine> sorted_budget(const compensation::OxygenReading& reading);

/// What makes the reading doubtful, in sentences.
[[nodiscard]] std::vector<std::string> doubts_about(const ExplainCase& typed,
                                                    const compensation::OxygenReading& reading);

/// The reading step by step for a person, with the caution at its end.
[[nodiscard]] std::string explain_text(const ExplainCase& typed, const compensation::OxygenReading& reading);

/// The same as one JSON object on one line.
[[nodiscard]] std::string explain_json(const ExplainCase& typed, const compensation::OxygenReading& reading);

} // namespace oxherd::daemon::cli
