#pragma once

#include <string_view>

#include <tl/expected.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/run/cells_answer.hpp"

namespace oxherd::daemon::cli {

/// --config, for commands that need no daemon.
[[nodiscard]] Option config_option();
[[nodiscard]] std::string config_file_of(const Arguments& arguments);

/// What of it a command looks at: without the cells no settings are asked for.
enum class WantedOfCells { records, cells_and_records };

/// Cells and records from the running daemon; when none runs, from its files and the settings. What had to be done
/// without is said on standard error.
[[nodiscard]] tl::expected<CellsAndRecords, AnswerError>
known_cells(const Arguments& arguments, Console& console, std::string_view command,
            WantedOfCells wanted = WantedOfCells::cells_and_records);

} // namespace oxherd::daemon::cli
