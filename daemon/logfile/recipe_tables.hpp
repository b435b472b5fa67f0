#pragma once

#include <optional>
#include <string_view>

#include "config/table_reader.hpp"
#include "daemon/logfile/recipe.hpp"

namespace oxherd::daemon::logfile {

// One function per table of a recipe; each reports to the reader's problems.

[[nodiscard]] Format read_format(config::TableReader in);
[[nodiscard]] std::optional<TimeColumns> read_time(config::TableReader in);
/// The signal (measurand oxygen) comes from a column of the file itself, and nothing stands in for it.
[[nodiscard]] std::optional<Source> read_source(config::TableReader in, config::Measurand measurand);
[[nodiscard]] Output read_output(config::TableReader in);

/// `column`: a name or a number from 1.
[[nodiscard]] std::optional<ColumnName> read_column(config::TableReader& in, std::string_view key,
                                                    const config::Node& node);

} // namespace oxherd::daemon::logfile
