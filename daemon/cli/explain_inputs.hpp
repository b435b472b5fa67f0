#pragma once

#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/cli/arguments.hpp"
#include "daemon/cli/explanation.hpp"

namespace oxherd::daemon::cli {

/// Reads the options of `explain` for a typed reading; `reading` is not formed yet, nothing is `stored`. Reports
/// everything that is missing, impossible or in a wrong unit, a sentence each.
[[nodiscard]] tl::expected<Explanation, std::vector<std::string>> read_typed_case(const Arguments& arguments);

} // namespace oxherd::daemon::cli
