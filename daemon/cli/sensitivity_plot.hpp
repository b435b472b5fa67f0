#pragma once

#include <string>
#include <vector>

#include "daemon/calibration/life.hpp"

namespace oxherd::daemon::cli {

/// The sensitivities over time as text: percent of the first upwards, time to the right, both with their ends named.
/// Each point is a `*`, its standard uncertainty (where wider than a line) a `|`. Empty for fewer than two points.
[[nodiscard]] std::string sensitivity_plot(const std::vector<SensitivityPoint>& points);

} // namespace oxherd::daemon::cli
