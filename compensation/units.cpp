#include "compensation/units.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <optional>

#include <fmt/format.h>

namespace oxherd::compensation {

namespace {

constexpr std::size_t shown_bytes_max = 60; // a pasted page must not become the message
constexpr std::array every_dimension{Dimension::voltage,  Dimension::pressure,   Dimension::temperature,
                                     Dimension::ratio,    Dimension::humidity,   Dimension::length,
                                     Dimension::duration, Dimension::frequency,  Dimension::power,
                                     Dimension::volume,   Dimension::volume_flow};

/// What the person typed, in quotes; shortened, and without control characters that would break a terminal or a log.
std::string quoted(std::string_view text) {
  const bool whole = text.size() <= shown_bytes_max;
  std::string shown{text.substr(0, shown_bytes_max)};
  while (!whole && !shown.empty() && (static_cast<unsigned char>(shown.back()) & 0xC0U) == 0x80U) shown.pop_back();
  if (!whole && !shown.empty() && static_cast<unsigned char>(shown.back()) >= 0xC0U) shown.pop_back();
  std::replace_if(
      shown.begin(), shown.end(), [](char c) { return static_cast<unsigned char>(c) < 0x20U || c == 0x7F; }, '?');
  return fmt::format("\"{}{}\"", shown, whole ? "" : "...");
}

std::string instead(Dimension wanted) {
  return fmt::format("write a {} such as \"{}\"", name_of(wanted), example_of(wanted));
}

tl::unexpected<UnitProblem> refused(std::string message) { return tl::unexpected(UnitProblem{std::move(message)}); }

/// Removes blanks at both ends; people paste no-break and thin spaces between a number and its unit.
std::string_view trimmed(std::string_view text) {
  constexpr std::array<std::string_view, 8> blanks{" ", "\t", "\r", "\n", "\u00a0", "\u2009", "\u202f", "\u2007"};
  for (bool again = true; again;) {
    again = false;
    for (const auto blank : blanks) {
      if (text.starts_with(blank)) {
        text.remove_prefix(blank.size());
        again = true;
      } else if (text.ends_with(blank)) {
        text.remove_suffix(blank.size());
        again = true;
      }
    }
  }
  return text;
}

std::optional<Unit> unit_spelled(std::string_view symbol, Dimension dimension) {
  for (const Unit& unit : units_of(dimension))
    if (unit.symbol == symbol) return unit;
  return std::nullopt;
}

bool equal_but_for_case(std::string_view a, std::string_view b) {
  const auto lower = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; };
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [&](char x, char y) { return lower(x) == lower(y); });
}

/// Why no unit of the wanted dimension has this spelling. `typed` is the whole text, for the message.
std::string no_such_unit(std::string_view typed, std::string_view symbol, Dimension wanted) {
  for (const Dimension other : every_dimension)
    if (unit_spelled(symbol, other))
      return fmt::format("{} is a {}; {}", quoted(typed), name_of(other), instead(wanted));
  for (const Unit& unit : units_of(wanted))
    if (!unit.symbol.empty() && equal_but_for_case(unit.symbol, symbol))
      return fmt::format("{}: the unit {} is written \"{}\"", quoted(typed), quoted(symbol), unit.symbol);
  return fmt::format("{}: the unit {} is not known; {}", quoted(typed), quoted(symbol), instead(wanted));
}

/// A number at the start of a text and what follows it.
struct Number {
  double value = 0.0;
  std::string_view rest;
};

[[nodiscard]] tl::expected<Number, UnitProblem> leading_number(std::string_view text, Dimension wanted) {
  constexpr std::string_view minus = "\u2212"; // the typographic minus of a pasted table
  std::string_view digits = text;
  bool negative = false;
  if (digits.starts_with('+')) {
    digits.remove_prefix(1);
  } else if (digits.starts_with('-') || digits.starts_with(minus)) {
    negative = true;
    digits.remove_prefix(digits.starts_with('-') ? 1 : minus.size());
  }
  const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
  // The first character is judged here because from_chars would also take "inf", "nan" and a second sign.
  const bool starts =
      !digits.empty() && (is_digit(digits[0]) || (digits[0] == '.' && digits.size() > 1 && is_digit(digits[1])));
  if (!starts) return refused(fmt::format("{} does not start with a number; {}", quoted(text), instead(wanted)));
  double value = 0.0;
  const auto [end, trouble] = std::from_chars(digits.data(), digits.data() + digits.size(), value);
  if (trouble != std::errc{})
    return refused(fmt::format("{}: the number is too large or too small; {}", quoted(text), instead(wanted)));
  const std::string_view rest = digits.substr(static_cast<std::size_t>(end - digits.data()));
  if (rest.starts_with(','))
    return refused(
        fmt::format("{} has a comma; write a decimal point and no separators between thousands, such as \"{}\"",
                    quoted(text), example_of(wanted)));
  return Number{negative ? -value : value, rest};
}

} // namespace

double to_si(const Unit& unit, double value) {
  const double per = 1.0 / unit.scale;
  const bool decimal = unit.scale < 1.0 && per == std::floor(per);
  return (decimal ? value / per : value * unit.scale) + unit.offset;
}

double from_si(const Unit& unit, double si) {
  const double per = 1.0 / unit.scale;
  const bool decimal = unit.scale < 1.0 && per == std::floor(per);
  return decimal ? (si - unit.offset) * per : (si - unit.offset) / unit.scale;
}

tl::expected<Unit, UnitProblem> find_unit(std::string_view symbol, Dimension dimension) {
  if (const auto unit = unit_spelled(symbol, dimension)) return *unit;
  return refused(no_such_unit(symbol, symbol, dimension));
}

tl::expected<double, UnitProblem> parse_quantity(std::string_view text, Dimension dimension) {
  const std::string_view typed = trimmed(text);
  if (typed.empty()) return refused(fmt::format("nothing is written; {}", instead(dimension)));
  const auto number = leading_number(typed, dimension);
  if (!number) return tl::unexpected(number.error());
  const std::string_view symbol = trimmed(number->rest);
  const auto unit = unit_spelled(symbol, dimension);
  if (!unit && symbol.empty()) return refused(fmt::format("{} has no unit; {}", quoted(typed), instead(dimension)));
  if (!unit) return refused(no_such_unit(typed, symbol, dimension));
  const double si = to_si(*unit, number->value);
  if (!std::isfinite(si)) return refused(fmt::format("{} is too large; {}", quoted(typed), instead(dimension)));
  constexpr double rounding_K = 1e-9; // "-459.67 °F" itself must not fall to the rounding of its conversion
  if (dimension == Dimension::temperature && si < -rounding_K)
    return refused(fmt::format("{} is below absolute zero; {}", quoted(typed), instead(dimension)));
  return si;
}

} // namespace oxherd::compensation
