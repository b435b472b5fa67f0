#pragma once

#include <string>
#include <string_view>

namespace oxherd::daemon::logfile {

/// How one file writes its rows.
struct Dialect {
  char delimiter = ',';
  bool blanks = false; ///< fields are divided by runs of blanks and tabs; `delimiter` is then a blank
  char decimal = '.';
  char quote = '"';    ///< RFC 4180; 0: a quote is a character like any other
  std::string comment; ///< lines that begin so are kept and are no rows; empty: there are none
};

/// "," or "tab" or "blanks", for messages and for a recipe.
[[nodiscard]] std::string_view name_of_delimiter(const Dialect& dialect);

} // namespace oxherd::daemon::logfile
