#include "daemon/logfile/number.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <cstring>

#include <fmt/format.h>

namespace oxherd::daemon::logfile {
namespace {

constexpr std::array<double, 23> powers_of_ten{1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,  1e8,  1e9,  1e10, 1e11,
                                               1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/// Eight bytes of text are worked on as one number, the first of them in its lowest bits.
constexpr bool eight_at_once = std::endian::native == std::endian::little;
constexpr std::uint64_t every_byte = 0x0101010101010101U;
constexpr std::size_t bits = 8; ///< of a byte

struct Digits {
  std::uint64_t whole = 0;
  std::size_t after = 0; ///< of them behind the decimal mark
};

/// Four to eight characters that are digits with at most one decimal mark; nothing for any others.
std::optional<Digits> eight_digits(const char* text, std::size_t n, char decimal) {
  std::uint32_t first = 0;
  std::uint32_t last = 0;
  std::memcpy(&first, text, sizeof first);
  std::memcpy(&last, text + n - sizeof last, sizeof last); // where both overlap they are the same
  std::uint64_t x = first | std::uint64_t{last} << bits * (n - sizeof last);
  const std::uint64_t other = x ^ every_byte * static_cast<unsigned char>(decimal);
  const std::uint64_t marks = (other - every_byte) & ~other & every_byte * 0x80U; // its lowest bit is exact
  std::size_t after = 0;
  if (marks != 0) { // the mark is taken out
    const auto before = static_cast<std::size_t>(std::countr_zero(marks)) / bits;
    const std::uint64_t low = (std::uint64_t{1} << bits * before) - 1;
    x = (x & low) | (x >> bits & ~low);
    --n;
    after = n - before;
  }
  const std::size_t zeros = bits * (sizeof x - n); // leading ones make it eight digits
  x = x << zeros | (every_byte * '0' & ((std::uint64_t{1} << zeros) - 1));
  constexpr std::uint64_t high = every_byte * 0xF0U;
  if (((x & high) | ((x + every_byte * 6U) & high) >> 4U) != every_byte * 0x33U) return std::nullopt;
  x = (x & every_byte * 0x0FU) * (10U * 256U + 1U) >> 8U; // pairs, then fours, then all
  x = (x & 0x00FF00FF00FF00FFU) * (100U * 65536U + 1U) >> 16U;
  x = (x & 0x0000FFFF0000FFFFU) * (10000U * 4294967296U + 1U) >> 32U;
  return Digits{x, after};
}

/// The eight digits of a number below 10^8, each in a byte, the first in the lowest.
std::uint64_t digits_of(std::uint64_t value) {
  const std::uint64_t fours = value / 10000U | value % 10000U << 32U;
  const std::uint64_t hundreds = fours * 10486U >> 20U & 0x0000007F0000007FU; // fours / 100
  const std::uint64_t pairs = hundreds | (fours - hundreds * 100U) << 16U;
  const std::uint64_t tens = pairs * 103U >> 10U & 0x000F000F000F000FU; // pairs / 10
  return tens | (pairs - tens * 10U) << 8U;
}

/// A number below 10^8 with its decimal mark; at most 7 decimals.
std::size_t write_short(char* to, std::uint64_t value, std::size_t decimals, char decimal) {
  const std::uint64_t digits = digits_of(value);
  const auto zeros = static_cast<std::size_t>(std::countr_zero(digits)) / bits;
  const std::size_t length = std::max(sizeof digits - zeros, decimals + 1);
  const std::size_t whole = length - decimals;
  const std::uint64_t text = (digits + every_byte * '0') >> bits * (sizeof digits - length);
  std::memcpy(to, &text, sizeof text);
  if (decimals == 0) return length;
  const std::uint64_t behind = text >> bits * whole;
  to[whole] = decimal;
  std::memcpy(to + whole + 1, &behind, sizeof behind);
  return length + 1;
}

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
  const auto length = static_cast<std::size_t>(end - at);
  if (eight_at_once && length >= 4 && length <= 8)
    if (const auto digits = eight_digits(at, length, decimal)) {
      const double value = static_cast<double>(digits->whole) / powers_of_ten[digits->after];
      return negative ? -value : value;
    }
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

std::size_t write_fixed(char* to, double value, int decimals, char decimal) {
  const double scaled = std::fabs(value) * powers_of_ten[static_cast<std::size_t>(decimals)];
  if (!(scaled < 9e15)) { // no value of a reading: kept readable all the same
    char* const end = fmt::format_to_n(to, fixed_length_max, "{:.{}e}", value, decimals).out;
    std::replace(to, end, '.', decimal);
    return static_cast<std::size_t>(end - to);
  }
  // The sum has no room for a fraction, so that adding rounds to nearest even; beyond, there is none.
  constexpr double whole_from = 0x1p52;
  auto rest = static_cast<std::uint64_t>(scaled < whole_from ? (scaled + whole_from) - whole_from : scaled);
  constexpr std::uint64_t short_below = 100'000'000;
  if (eight_at_once && rest < short_below && decimals < 8) {
    const bool minus = std::signbit(value) && rest != 0;
    *to = '-';
    return write_short(to + (minus ? 1 : 0), rest, static_cast<std::size_t>(decimals), decimal) + (minus ? 1U : 0U);
  }
  std::array<char, fixed_length_max> text; // filled from its end
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
  const auto length = static_cast<std::size_t>(text.data() + text.size() - at);
  std::memcpy(to, at, length);
  return length;
}

void append_fixed(std::string& out, double value, int decimals, char decimal) {
  std::array<char, fixed_length_max> text;
  out.append(text.data(), write_fixed(text.data(), value, decimals, decimal));
}

} // namespace oxherd::daemon::logfile
