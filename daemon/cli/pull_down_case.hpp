#pragma once

#include <string>

#include <tl/expected.hpp>

#include "control/aids/pull_down.hpp"
#include "daemon/cli/answer.hpp"

namespace oxherd::daemon::cli {

/// A pull-down to forecast; fractions are ratios.
struct PullDownCase {
  std::string room; ///< empty: none was named
  control::UncertainDilution dilution{};
  control::Estimate from{};
  double to = 0;
};

/// Reads the options, and the settings where a room is named: what is typed goes before what they say.
[[nodiscard]] tl::expected<PullDownCase, AnswerError> read_pull_down(const Arguments& arguments);

/// The forecast for a person, with a line for each tenth of the time; ended by a line break.
[[nodiscard]] std::string pull_down_text(const PullDownCase& asked, const control::PullDownForecast& forecast);
/// As one JSON object, SI, fractions as ratios.
[[nodiscard]] std::string pull_down_json(const PullDownCase& asked, const control::PullDownForecast& forecast);

} // namespace oxherd::daemon::cli
