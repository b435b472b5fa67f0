#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/cli/arguments.hpp"
#include "daemon/cli/cell_view.hpp"
#include "daemon/cli/console.hpp"
#include "daemon/cli/explanation.hpp"
#include "daemon/run/wording.hpp"

namespace oxherd::daemon::cli {

struct NotExplained {
  Exit exit = usage;
  std::vector<std::string> problems; ///< a sentence each
};
/// The reading that the options of `explain` describe.
[[nodiscard]] tl::expected<Explanation, NotExplained> typed_explanation(const Arguments& arguments);

/// The cell that a word means, by "room/sensor" or its serial number; it may be known from records only.
[[nodiscard]] std::optional<CellView> cell_meant(const CellsAndRecords& known, const std::string& word, WallTime now);

/// For whoever asks the daemon.
[[nodiscard]] Wording wording();

} // namespace oxherd::daemon::cli
