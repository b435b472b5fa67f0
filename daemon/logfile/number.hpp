#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace oxherd::daemon::logfile {

/// Reads a whole text as a decimal number, with an exponent or without. Takes no blanks, no "inf" or "nan", no
/// separators between thousands; the result is finite and correctly rounded.
/// @param decimal  '.' or ','
/// @checked tests/daemon/logfile/number_test.cpp, against std::from_chars over random numbers
[[nodiscard]] std::optional<double> parse_number(std::string_view text, char decimal);

inline constexpr int decimals_max = 9;

/// Appends a value with that many digits after the decimal mark, rounded to nearest. Minus zero loses its sign.
/// @param decimals  0 to 9
void append_fixed(std::string& out, double value, int decimals, char decimal);

} // namespace oxherd::daemon::logfile
