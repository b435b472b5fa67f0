#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/logfile/table_shape.hpp"

namespace oxherd::daemon::logfile {

/// Which columns hold the time of a row, and in which format.
struct TimeGuess {
  std::vector<std::size_t> columns; ///< one, or date and time of day; from 0
  /// Formats as a recipe has them that read every row. More than one: they give different times, and the rows do not
  /// tell which of them is meant.
  std::vector<std::string> formats;
  bool states_offset = false; ///< the rows state their offset from UTC, or count in UTC
  bool named_utc = false;     ///< the name of a column says UTC or GMT
};

/// The first column, or pair of neighbours, that some format reads in every row. A count of seconds or milliseconds
/// must lie between the years 2000 and 2100 and its column be named for time.
[[nodiscard]] std::optional<TimeGuess> guess_time(const TableShape& shape);

} // namespace oxherd::daemon::logfile
