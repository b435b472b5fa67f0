#include "daemon/cli/text.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

namespace oxherd::daemon::cli {
namespace {

constexpr std::string_view replacement = "\xEF\xBF\xBD";

/// Length of the well-formed UTF-8 sequence at the start of `text`, 0 when there is none (RFC 3629, section 4).
std::size_t sequence_length(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  const unsigned lead = byte(0);
  if (lead < 0x80) return 1;
  const std::size_t length = lead >= 0xF0 ? 4 : lead >= 0xE0 ? 3 : 2;
  if (lead < 0xC2 || lead > 0xF4 || text.size() < length) return 0;
  for (std::size_t i = 1; i < length; ++i)
    if ((byte(i) & 0xC0) != 0x80) return 0;
  const unsigned second = byte(1);
  const bool overlong = (lead == 0xE0 && second < 0xA0) || (lead == 0xF0 && second < 0x90);
  const bool surrogate = lead == 0xED && second >= 0xA0;
  const bool beyond = lead == 0xF4 && second >= 0x90;
  return overlong || surrogate || beyond ? 0 : length;
}

/// C0 and C1 controls, and the marks that turn the direction of writing (U+202A to U+202E, U+2066 to U+2069).
bool is_control(std::string_view sequence) {
  const auto first = static_cast<unsigned char>(sequence[0]);
  if (sequence.size() == 1) return first < 0x20 || first == 0x7F;
  const auto second = static_cast<unsigned char>(sequence[1]);
  if (sequence.size() == 2) return first == 0xC2 && second < 0xA0;
  if (sequence.size() != 3 || first != 0xE2) return false;
  const auto third = static_cast<unsigned char>(sequence[2]);
  return (second == 0x80 && third >= 0xAA && third <= 0xAE) || (second == 0x81 && third >= 0xA6 && third <= 0xA9);
}

/// Bytes of the longest start of a text that takes at most so many columns.
std::size_t bytes_of_columns(std::string_view utf8, std::size_t columns) {
  std::size_t end = 0;
  for (std::size_t next = 0; next < utf8.size(); end = next) {
    ++next;
    if (utf8[end] == '\x1b')
      next = std::min(utf8.find('m', end), utf8.size() - 1) + 1;
    else
      while (next < utf8.size() && (static_cast<unsigned char>(utf8[next]) & 0xC0) == 0x80) ++next;
    if (width_of(utf8.substr(0, next)) > columns) return end;
  }
  return end;
}

} // namespace

std::size_t width_of(std::string_view utf8) {
  std::size_t out = 0;
  bool in_colour = false; // from an escape to its "m"; text from outside has none, see printable
  for (const char c : utf8) {
    if (c == '\x1b') in_colour = true;
    if (!in_colour && (static_cast<unsigned char>(c) & 0xC0) != 0x80) ++out;
    if (c == 'm') in_colour = false;
  }
  return out;
}

std::string printable(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  while (!text.empty()) {
    const std::size_t length = sequence_length(text);
    const auto sequence = text.substr(0, std::max<std::size_t>(length, 1));
    if (sequence == "\n" || sequence == "\t" || sequence == "\r")
      out += ' ';
    else if (length == 0 || is_control(sequence))
      out += replacement;
    else
      out += sequence;
    text.remove_prefix(sequence.size());
  }
  return out;
}

std::string wrapped(std::string_view text, std::size_t width, std::size_t indent) {
  std::string out;
  std::size_t column = indent;
  while (!text.empty()) {
    const auto end = std::min(text.find(' '), text.size());
    const auto word = text.substr(0, end);
    const std::size_t wide = width_of(word);
    if (column > indent && column + 1 + wide > width) {
      out += '\n' + std::string(indent, ' ');
      column = indent;
    } else if (column > indent) {
      out += ' ';
      ++column;
    }
    out += word;
    column += wide;
    text.remove_prefix(std::min(end + 1, text.size()));
  }
  return out;
}

std::string folded(std::string_view line, std::size_t columns) {
  const std::size_t room_min = 4;
  columns = std::max(columns, room_min);
  const auto indent = std::min(std::min(line.find_first_not_of(' '), line.size()) + 2, columns - room_min);
  std::string out;
  for (std::size_t room = columns; width_of(line) > room; room = columns - indent) {
    auto end = bytes_of_columns(line, room);
    const auto word = line.find_first_not_of(' ');
    if (const auto blank = line.rfind(' ', end); blank != line.npos && blank > word) end = blank;
    const auto kept = line.substr(0, end);
    out += std::string{kept.substr(0, kept.find_last_not_of(' ') + 1)} + '\n' + std::string(indent, ' ');
    line.remove_prefix(std::min(line.find_first_not_of(' ', end), line.size()));
  }
  return out + std::string{line};
}

std::string counted(std::size_t n, std::string_view singular) {
  return fmt::format("{} {}{}", n, singular, n == 1 ? "" : "s");
}

std::string duration_text(double seconds) {
  if (!std::isfinite(seconds)) return "unknown";
  const double positive = std::clamp(seconds, 0.0, 1e11);
  if (positive < 59.95) return fmt::format("{:.3g} s", std::round(positive * 10.0) / 10.0);
  const auto s = static_cast<std::int64_t>(std::llround(positive));
  const auto two = [](std::int64_t a, std::string_view a_unit, std::int64_t b, std::string_view b_unit) {
    return b == 0 ? fmt::format("{} {}", a, a_unit) : fmt::format("{} {} {} {}", a, a_unit, b, b_unit);
  };
  if (s < 3600) return two(s / 60, "min", s % 60, "s");
  if (s < 86400) return two(s / 3600, "h", s % 3600 / 60, "min");
  return two(s / 86400, "d", s % 86400 / 3600, "h");
}

std::string percent_text(std::optional<double> ratio, int decimals) {
  if (!ratio) return "-";
  return fmt::format("{:.{}f} %", *ratio * 100.0, decimals);
}

std::string short_number(double value, int digits) { return fmt::format("{:.{}g}", value, digits); }

std::string quantity_text(std::optional<double> si, std::string_view unit, bool as_ppm) {
  if (!si) return "-";
  if (unit == "/") return as_ppm ? fmt::format("{:.0f} ppm", *si * 1e6) : fmt::format("{:.2f} %", *si * 100.0);
  if (unit == "Pa") return fmt::format("{:.2f} kPa", *si / 1e3);
  return fmt::format("{} {}", short_number(*si, 6), printable(unit));
}

} // namespace oxherd::daemon::cli
