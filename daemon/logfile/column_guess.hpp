#pragma once

#include <array>
#include <optional>
#include <string>
#include <vector>

#include "daemon/logfile/recipe.hpp"
#include "daemon/logfile/table_shape.hpp"

namespace oxherd::daemon::logfile {

/// A column that probably holds one input, and why.
struct ColumnGuess {
  std::size_t column = 0;                 ///< from 0
  std::optional<compensation::Unit> unit; ///< none: neither header nor values tell it
  std::string why;                        ///< "its name says oxygen; its unit is in the header; ..."
  std::vector<std::size_t> others;        ///< columns that could hold the same
  bool reduced = false;                   ///< a pressure whose name says that it is reduced to sea level
};

/// What the columns of a file seem to hold. There is no guess where nothing speaks for a column.
struct ColumnGuesses {
  std::array<std::optional<ColumnGuess>, quantity_count>
      of{};                         ///< by Quantity; the humidity probe's own is never guessed
  std::vector<std::string> missing; ///< texts that stand for a missing value besides those that are known anyway
};

/// Judges each column by the words of its name, by its unit (in the name, or in a line of units) and by whether its
/// values lie in the span that a room's air or a cell has. A unit that is nowhere stated is concluded from the values
/// only where a single one makes them plausible; of a signal never.
[[nodiscard]] ColumnGuesses guess_columns(const TableShape& shape);

} // namespace oxherd::daemon::logfile
