#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

namespace oxherd::daemon::cli {

/// Flows and air changes are told by the hour.
inline constexpr double hour_s = 3600.0;

/// Number of columns that UTF-8 text takes (one per code point: none of our words has wide or combining characters).
/// Colours (see console.hpp) take none.
[[nodiscard]] std::size_t width_of(std::string_view utf8);

/// Text from outside made harmless for a terminal: control characters, escapes among them, become U+FFFD and a line
/// break becomes a blank. What is not UTF-8 becomes U+FFFD too.
[[nodiscard]] std::string printable(std::string_view text);

/// Text broken into lines of at most `width` columns at blanks, each after the first indented.
[[nodiscard]] std::string wrapped(std::string_view text, std::size_t width, std::size_t indent);

/// One line broken into lines of at most `columns` (4 at least), at blanks where there are any; those after the first
/// are indented two more than it. Columns of a table stay where they are, which `wrapped` would not do.
[[nodiscard]] std::string folded(std::string_view line, std::size_t columns);

/// A count with its word: "1 sensor", "3 sensors".
[[nodiscard]] std::string counted(std::size_t n, std::string_view singular);

/// An age or duration for a person: "3 s", "4 min 10 s", "2 h 5 min", "3 d 4 h". Never negative.
[[nodiscard]] std::string duration_text(double seconds);

/// A ratio as percent, or a dash when there is none: "20.41 %".
[[nodiscard]] std::string percent_text(std::optional<double> ratio, int decimals);

/// A number as short as possible without losing a significant digit of `digits`: "19.5", "99.8", "5000".
[[nodiscard]] std::string short_number(double value, int digits);

/// A value that is SI with the unit an alarm gives ("/", "Pa"), in the unit a person reads: percent for oxygen, ppm for
/// small fractions that `as_ppm` asks for, kilopascal for pressures.
[[nodiscard]] std::string quantity_text(std::optional<double> si, std::string_view unit, bool as_ppm);

} // namespace oxherd::daemon::cli
