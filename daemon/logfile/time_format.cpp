#include "daemon/logfile/time_format.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include <fmt/core.h>

#include "daemon/logfile/number.hpp"

namespace oxherd::daemon::logfile {
namespace {

constexpr std::array<std::string_view, 12> months{"january",   "february", "march",    "april",
                                                  "may",       "june",     "july",     "august",
                                                  "september", "october",  "november", "december"};
constexpr std::string_view conversions = "YymdeHIMSfpbBjz%";
constexpr char whole_second = 's';             ///< %S of a pattern that has %f
constexpr double epoch_s_max = 253402300800.0; // the year 10000

bool digit_at(std::string_view text, std::size_t i) { return i < text.size() && text[i] >= '0' && text[i] <= '9'; }

char lower_letter(char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c; }

/// Takes between `least` and `most` digits off the front.
bool take_digits(std::string_view& text, std::size_t least, std::size_t most, int& value) {
  std::size_t n = 0;
  int sum = 0;
  while (n < most && digit_at(text, n)) sum = sum * 10 + (text[n++] - '0');
  if (n < least) return false;
  value = sum;
  text.remove_prefix(n);
  return true;
}

/// Digits after the decimal mark of a second, as milliseconds; what is finer is cut off.
bool take_fraction(std::string_view& text, int& ms) {
  std::size_t n = 0;
  int sum = 0;
  for (int weight = 100; digit_at(text, n); weight /= 10) sum += (text[n++] - '0') * weight;
  ms = sum;
  text.remove_prefix(n);
  return n > 0;
}

void take_optional_fraction(std::string_view& text, int& ms) {
  if (text.empty() || (text.front() != '.' && text.front() != ',') || !digit_at(text, 1)) return;
  text.remove_prefix(1);
  static_cast<void>(take_fraction(text, ms));
}

/// An English name, whole or its first three letters.
bool take_month(std::string_view& text, int& month) {
  for (std::size_t i = 0; i < months.size(); ++i)
    for (const std::size_t length : {months[i].size(), std::size_t{3}}) {
      const auto start = text.substr(0, length);
      if (start.size() != length || !std::equal(start.begin(), start.end(), months[i].begin(),
                                                [](char a, char b) { return lower_letter(a) == b; }))
        continue;
      month = static_cast<int>(i) + 1;
      text.remove_prefix(length);
      return true;
    }
  return false;
}

/// "Z", "+02:00", "+0200" or "+02".
bool take_offset(std::string_view& text, std::optional<std::chrono::minutes>& offset) {
  if (text.empty()) return false;
  const char sign = text.front();
  text.remove_prefix(1);
  if (sign == 'Z' || sign == 'z') {
    offset = std::chrono::minutes{0};
    return true;
  }
  int hours = 0;
  int minutes = 0;
  if ((sign != '+' && sign != '-') || !take_digits(text, 2, 2, hours)) return false;
  if (!text.empty() && text.front() == ':') text.remove_prefix(1);
  if (!text.empty() && !take_digits(text, 2, 2, minutes)) return false;
  if (hours > 23 || minutes > 59) return false;
  offset = std::chrono::minutes{(sign == '-' ? -1 : 1) * (hours * 60 + minutes)};
  return true;
}

} // namespace

struct TimeFormat::Parts {
  int year = 1970, month = 1, day = 1, day_of_year = 0;
  int hour = 0, minute = 0, second = 0, ms = 0;
  bool twelve = false, afternoon = false;
  std::optional<std::chrono::minutes> offset;
};

tl::expected<TimeFormat, std::string> TimeFormat::make(std::string_view text) {
  TimeFormat format;
  if (text == "iso") return format;
  format.kind_ = text == "epoch-s" ? Kind::epoch_s : text == "epoch-ms" ? Kind::epoch_ms : Kind::pattern;
  if (format.kind_ != Kind::pattern) return format;
  std::string expanded;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto pair = text.substr(i, 2);
    const std::string_view whole = pair == "%F"   ? "%Y-%m-%d"
                                   : pair == "%T" ? "%H:%M:%S"
                                   : pair == "%D" ? "%m/%d/%y"
                                   : pair == "%R" ? "%H:%M"
                                                  : pair;
    const bool conversion = text[i] == '%';
    expanded += conversion ? whole : pair.substr(0, 1);
    i += conversion ? 1 : 0;
  }
  std::string used;
  for (std::size_t i = 0; i < expanded.size(); ++i) {
    if (expanded[i] != '%') {
      format.tokens_.push_back({0, expanded[i]});
      continue;
    }
    const char c = i + 1 < expanded.size() ? expanded[i + 1] : ' ';
    if (conversions.find(c) == conversions.npos)
      return tl::unexpected(fmt::format("there is no conversion \"%{}\"; known are %Y %y %m %d %e %H %I %M %S %f %p %b "
                                        "%j %z %F %T %D %R and %%",
                                        c));
    format.tokens_.push_back(c == '%' ? Token{0, '%'} : Token{c, 0});
    used += c;
    ++i;
  }
  const auto has = [&used](std::string_view any) { return used.find_first_of(any) != used.npos; };
  if (!has("Yy") || !(has("j") || (has("mbB") && has("de"))) || !has("HI"))
    return tl::unexpected(
        std::string{"is neither \"iso\", \"epoch-s\" nor \"epoch-ms\", and as a pattern it lacks year, day or hour; "
                    "write for example \"%d.%m.%Y %H:%M:%S\""});
  // With a %f of its own, the fraction is not %S's to take.
  if (has("f"))
    for (auto& token : format.tokens_)
      if (token.conversion == 'S') token.conversion = whole_second;
  return format;
}

bool TimeFormat::read_iso(std::string_view text, Parts& parts) const {
  // The shape first: one comparison a character, because this is read once a row.
  constexpr std::string_view shape = "dddd-dd-ddTdd:dd";
  if (text.size() < shape.size()) return false;
  const char* const c = text.data();
  for (std::size_t i = 0; i < shape.size(); ++i) {
    const bool fits = shape[i] == 'd'   ? c[i] >= '0' && c[i] <= '9'
                      : shape[i] == 'T' ? c[i] == 'T' || c[i] == ' ' || c[i] == 't'
                                        : c[i] == shape[i];
    if (!fits) return false;
  }
  const auto two = [c](std::size_t i) { return (c[i] - '0') * 10 + (c[i + 1] - '0'); };
  parts.year = two(0) * 100 + two(2);
  parts.month = two(5);
  parts.day = two(8);
  parts.hour = two(11);
  parts.minute = two(14);
  text.remove_prefix(shape.size());
  if (!text.empty() && text.front() == ':') {
    text.remove_prefix(1);
    if (!take_digits(text, 2, 2, parts.second)) return false;
    take_optional_fraction(text, parts.ms);
  }
  if (!text.empty() && text.front() == ' ') text.remove_prefix(1); // "2026-03-01 08:00:00 +01:00"
  return text.empty() || (take_offset(text, parts.offset) && text.empty());
}

bool TimeFormat::read_token(Token token, std::string_view& text, Parts& parts) {
  switch (token.conversion) {
  case 'Y': return take_digits(text, 4, 4, parts.year);
  case 'y':
    if (!take_digits(text, 2, 2, parts.year)) return false;
    parts.year += parts.year < 69 ? 2000 : 1900; // the pivot of POSIX
    return true;
  case 'm': return take_digits(text, 1, 2, parts.month);
  case 'e':
    if (!text.empty() && text.front() == ' ') text.remove_prefix(1);
    [[fallthrough]];
  case 'd': return take_digits(text, 1, 2, parts.day);
  case 'H': return take_digits(text, 1, 2, parts.hour);
  case 'I': parts.twelve = true; return take_digits(text, 1, 2, parts.hour);
  case 'M': return take_digits(text, 1, 2, parts.minute);
  case 'S':
    if (!take_digits(text, 1, 2, parts.second)) return false;
    take_optional_fraction(text, parts.ms);
    return true;
  case whole_second: return take_digits(text, 1, 2, parts.second);
  case 'f': return take_fraction(text, parts.ms);
  case 'b':
  case 'B': return take_month(text, parts.month);
  case 'j': return take_digits(text, 1, 3, parts.day_of_year) && parts.day_of_year > 0;
  case 'z': return take_offset(text, parts.offset);
  case 'p': {
    const char half = text.empty() ? ' ' : lower_letter(text.front());
    if ((half != 'a' && half != 'p') || text.size() < 2 || lower_letter(text[1]) != 'm') return false;
    parts.afternoon = half == 'p';
    text.remove_prefix(2);
    return true;
  }
  default:
    if (text.empty() || text.front() != token.literal) return false;
    text.remove_prefix(1);
    return true;
  }
}

bool TimeFormat::read_pattern(std::string_view text, Parts& parts) const {
  for (const Token token : tokens_) {
    if (token.conversion == 0 && token.literal == ' ') {
      while (!text.empty() && text.front() == ' ') text.remove_prefix(1);
      continue;
    }
    if (!read_token(token, text, parts)) return false;
  }
  return text.empty();
}

std::optional<FileTime> TimeFormat::shown(const Parts& parts) {
  using namespace std::chrono;
  int hour = parts.hour;
  if (parts.twelve) {
    if (hour < 1 || hour > 12) return std::nullopt;
    hour = hour % 12 + (parts.afternoon ? 12 : 0);
  }
  // A second of 60 is a leap second and is taken as the next minute's 0; 24:00 ends a day (ISO 8601).
  const bool end_of_day = hour == 24 && parts.minute == 0 && parts.second == 0 && parts.ms == 0;
  if ((hour > 23 && !end_of_day) || parts.minute > 59 || parts.second > 60) return std::nullopt;
  const int key = parts.day_of_year > 0 ? parts.year * 1000 + 500 + parts.day_of_year
                                        : -(parts.year * 10000 + parts.month * 100 + parts.day) - 2;
  if (key != day_key_) {
    sys_days days;
    if (parts.day_of_year > 0) {
      const bool exists = parts.day_of_year <= (year{parts.year}.is_leap() ? 366 : 365);
      if (!exists) return std::nullopt;
      days = sys_days{year{parts.year} / January / 1} + std::chrono::days{parts.day_of_year - 1};
    } else {
      const year_month_day date{year{parts.year}, month{static_cast<unsigned>(parts.month)},
                                day{static_cast<unsigned>(parts.day)}};
      if (!date.ok()) return std::nullopt;
      days = date;
    }
    day_key_ = key;
    day_ms_ = milliseconds{days.time_since_epoch()}.count();
  }
  took_offset_ = took_offset_ || !parts.offset;
  const std::int64_t minutes_of_day = hour * 60 + parts.minute;
  return day_ms_ + minutes_of_day * 60000 + parts.second * std::int64_t{1000} + parts.ms;
}

std::optional<WrittenTime> TimeFormat::read(std::string_view text) {
  if (kind_ == Kind::epoch_s || kind_ == Kind::epoch_ms) {
    auto number = parse_number(text, '.');
    if (!number && text.find(',') != text.npos) number = parse_number(text, ',');
    if (!number) return std::nullopt;
    const double scale = kind_ == Kind::epoch_s ? 1e3 : 1.0;
    if (std::fabs(*number) * scale > epoch_s_max * 1e3) return std::nullopt;
    return WrittenTime{std::llround(*number * scale), std::chrono::minutes{0}};
  }
  Parts parts;
  if (!(kind_ == Kind::iso ? read_iso(text, parts) : read_pattern(text, parts))) return std::nullopt;
  const auto time = shown(parts);
  if (!time) return std::nullopt;
  return WrittenTime{*time, parts.offset};
}

std::optional<FileTime> TimeFormat::parse(std::string_view text, std::chrono::minutes offset) {
  const auto written = read(text);
  if (!written) return std::nullopt;
  return written->shown - std::chrono::milliseconds{written->offset.value_or(offset)}.count();
}

std::optional<std::chrono::minutes> offset_named(std::string_view text) {
  if (text == "UTC") return std::chrono::minutes{0};
  std::optional<std::chrono::minutes> offset;
  if (!take_offset(text, offset) || !text.empty()) return std::nullopt;
  return offset;
}

} // namespace oxherd::daemon::logfile
