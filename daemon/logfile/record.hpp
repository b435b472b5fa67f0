#pragma once

#include <string>

#include "daemon/logfile/correct_file.hpp"
#include "daemon/logfile/recipe.hpp"
#include "daemon/logfile/summary.hpp"

namespace oxherd::daemon::logfile {

/// The record that stands beside a corrected file: what was corrected, how, when and with what result, so that the
/// correction can be repeated and checked. One JSON object.
[[nodiscard]] std::string record_json(const Recipe& recipe, const Correction& correction, const Summary& summary);

} // namespace oxherd::daemon::logfile
