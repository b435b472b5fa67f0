#include "daemon/logfile/number.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>

#include <fmt/format.h>

namespace oxherd::daemon::logfile {
namespace {

constexpr std::array<double, 23> powers_of_ten{1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                               1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

bool is_digit(char c) { return c >= '0' && c <= '9'; }

/// Every number that the short way does not take.
std::optional<double> parse_slowly(std::string_view text, char decimal) {
  std::array<char, 400> copy{};
  if (text.size() > copy.size()) return std::nullopt;
  bool digits = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (decimal != '.' && c == '.') return std::nullopt;
    // from_chars would also take "inf" and "nan".
    if (!is_digit(c) && c != decimal && c != '-' && c != '+' && c != 'e' && c != 'E') return std::nullopt;
    digits = digits || is_digit(c);
    copy[i] = c == decimal ? '.' : c;
  }
  const bool plus = !text.empty() && text.front() == '+'; // from_chars takes no plus
  if (!digits || (plus && text.size() > 1 && text[1] == '-')) return std::nullopt;
  double value = 0.0;
  const char* const end = copy.data() + text.size();
  const auto [stop, trouble] = std::from_chars(copy.data() + (plus ? 1 : 0), end, value);
  if (trouble != std::errc{} || stop != end || !std::isfinite(value)) return std::nullopt;
  return value;
}

} // namespace

// Numbers of a logger have few digits: as a whole number below 2^53 and a power of ten up to 22, both exact as doubles,
// one division gives the nearest double.
// @source W. D. Clinger, How to Read Floating Point Numbers Accurately, PLDI 1990 (from memory)
std::optional<double> parse_number(std::string_view text, char decimal) {
  const char* at = text.data();
  const char* const end = at + text.size();
  const bool negative = at != end && *at == '-';
  if (negative) ++at;
  std::uint64_t whole = 0;
  const char* const first = at;
  while (at != end && is_digit(*at)) whole = whole * 10 + static_cast<std::uint64_t>(*at++ - '0');
  std::size_t digits = static_cast<std::size_t>(at - first);
  std::size_t after = 0;
  if (at != end && *at == decimal) {
    const char* const mark = ++at;
    while (at != end && is_digit(*at)) whole = whole * 10 + static_cast<std::uint64_t>(*at++ - '0');
    after = static_cast<std::size_t>(at - mark);
    digits += after;
  }
  constexpr std::size_t digits_exact = 15; // all below 2^53
  if (at != end || digits == 0 || digits > digits_exact) return parse_slowly(text, decimal);
  const double value = static_cast<double>(whole) / powers_of_ten[after];
  return negative ? -value : value;
}

void append_fixed(std::string& out, double value, int decimals, char decimal) {
  const double scaled = std::fabs(value) * powers_of_ten[static_cast<std::size_t>(decimals)];
  if (!(scaled < 9e15)) { // no value of a reading: kept readable all the same
    std::string text = fmt::format("{:.{}e}", value, decimals);
    std::replace(text.begin(), text.end(), '.', decimal);
    out += text;
    return;
  }
  auto rest = static_cast<std::uint64_t>(std::nearbyint(scaled));
  std::array<char, 32> text{};
  char* at = text.data() + text.size();
  const bool negative = std::signbit(value) && rest != 0;
  for (int i = 0; i < decimals; ++i) {
    *--at = static_cast<char>('0' + rest % 10);
    rest /= 10;
  }
  if (decimals > 0) *--at = decimal;
  do {
    *--at = static_cast<char>('0' + rest % 10);
    rest /= 10;
  } while (rest != 0);
  if (negative) *--at = '-';
  out.append(at, static_cast<std::size_t>(text.data() + text.size() - at));
}

} // namespace oxherd::daemon::logfile
