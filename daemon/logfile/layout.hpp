#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include <tl/expected.hpp>

#include "daemon/logfile/dialect.hpp"
#include "daemon/logfile/failure.hpp"
#include "daemon/logfile/recipe.hpp"

namespace oxherd::daemon::logfile {

/// The columns that one file must have.
struct Wanted {
  std::array<const ColumnName*, quantity_count> quantities{}; ///< null: not from this file
  std::vector<const ColumnName*> time;
};
/// What a recipe wants of the file that is corrected (`From::column`) or of the second one (`From::ambient`).
[[nodiscard]] Wanted wanted_of(const Recipe& recipe, Source::From from);

/// Where everything stands in one file.
struct Layout {
  Dialect dialect;
  int preamble = 0; ///< lines before the header or the first row
  bool header = false;
  bool units_line = false;
  std::size_t columns = 0; ///< fields of a row; what has more or fewer is not trusted
  std::size_t width = 0;   ///< fields that stand before an added column: `columns`, or those of a longer header
  std::array<int, quantity_count> quantities{-1, -1, -1, -1, -1}; ///< from 0; -1: not from this file
  std::vector<int> time;                                          ///< likewise
  std::vector<std::string> names;                                 ///< of the header
};

/// Finds out how a file is written from its first bytes: what the format leaves open (delimiter, decimal mark, where
/// the header stands) is taken from the rows. The header is the first line that has every name that is wanted.
/// @param text  the first bytes of the file, without a byte order mark
/// @param file  its name, for failures
/// @return Failure, one line for each column that is not there
[[nodiscard]] tl::expected<Layout, Failure> find_layout(std::string_view text, const std::string& file,
                                                        const Format& format, const Wanted& wanted);

/// Text in ISO 8859-1 as UTF-8. What is UTF-8 already stays as it is.
[[nodiscard]] std::string as_utf8(std::string_view text);

/// The likeliest delimiter: the first of tab, semicolon, bar and comma that divides nearly every row alike.
[[nodiscard]] char likely_delimiter(std::string_view rows, const Dialect& dialect, std::size_t fields_min);

} // namespace oxherd::daemon::logfile
