#pragma once

#include <cstddef>
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

inline constexpr std::size_t fixed_length_max = 32;
/// Writes a value with that many digits after the decimal mark, rounded to nearest. Minus zero loses its sign.
/// @param to        room for `fixed_length_max` bytes
/// @param decimals  0 to 9
/// @return how many bytes were written
std::size_t write_fixed(char* to, double value, int decimals, char decimal);
/// Appends a value with that many digits after the decimal mark, as write_fixed does.
void append_fixed(std::string& out, double value, int decimals, char decimal);

} // namespace oxherd::daemon::logfile
