#pragma once

#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/logfile/dialect.hpp"
#include "daemon/logfile/failure.hpp"

namespace oxherd::daemon::logfile {

/// How a table of text is written, found out without knowing what it holds.
struct TableShape {
  Dialect dialect;
  bool decimal_seen = false;      ///< a number has the decimal mark; else it is taken to be the point
  std::size_t header_line = 0;    ///< from 1; 0: there is none
  std::size_t first_line = 0;     ///< of the first row, from 1
  std::vector<std::string> names; ///< of the header, in UTF-8; as many as columns, empty where there is none
  std::vector<std::string> units; ///< of a line of units below it; empty when there is none
  std::vector<std::vector<std::string>> rows; ///< the first rows, contents of their fields
};

/// Finds the delimiter that divides most lines alike, the first row with a number, the header and the line of units
/// above it, the decimal mark, and whether '#' begins comments.
/// @param text  the first bytes of a file, without a byte order mark
/// @param file  its name, for the failure
/// @return Failure when no delimiter makes a table of two columns or more out of it
[[nodiscard]] tl::expected<TableShape, Failure> shape_of(std::string_view text, const std::string& file);

} // namespace oxherd::daemon::logfile
