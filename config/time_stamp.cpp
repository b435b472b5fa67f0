#include "config/time_stamp.hpp"

#include <string>

namespace oxherd::config {
namespace {

using std::chrono::milliseconds;

/// Takes numbers and marks off the front of a text; the first that does not fit makes every later one fail.
class TimeReader {
public:
  explicit TimeReader(std::string_view text) : rest_{text} {}

  /// Exactly `digits` decimal digits.
  int number(std::size_t digits) {
    int value = 0;
    for (std::size_t i = 0; i < digits; ++i) value = value * 10 + digit();
    return value;
  }
  /// One character out of `allowed`.
  char one_of(std::string_view allowed) {
    if (rest_.empty() || allowed.find(rest_.front()) == std::string_view::npos) return fail();
    return take();
  }
  /// An optional fraction of a second; digits past the millisecond are cut off.
  milliseconds fraction() {
    if (rest_.empty() || rest_.front() != '.') return milliseconds{0};
    take();
    int ms = digit() * 100;
    for (int weight = 10; !rest_.empty() && rest_.front() >= '0' && rest_.front() <= '9'; weight /= 10)
      ms += digit() * weight;
    return milliseconds{ms};
  }
  [[nodiscard]] bool finished() const { return ok_ && rest_.empty(); }

private:
  int digit() {
    if (rest_.empty() || rest_.front() < '0' || rest_.front() > '9') return fail();
    return take() - '0';
  }
  char take() {
    const char c = rest_.front();
    rest_.remove_prefix(1);
    return c;
  }
  char fail() {
    ok_ = false;
    rest_ = {};
    return 0;
  }

  std::string_view rest_;
  bool ok_ = true;
};

} // namespace

std::optional<WallInstant> instant_of(std::string_view text, LeapSecond leap) {
  TimeReader in{text};
  const int year = in.number(4);
  in.one_of("-");
  const int month = in.number(2);
  in.one_of("-");
  const int day = in.number(2);
  in.one_of("Tt ");
  const int hour = in.number(2);
  in.one_of(":");
  const int minute = in.number(2);
  in.one_of(":");
  const int second = in.number(2);
  const milliseconds fraction = in.fraction();
  std::chrono::minutes offset{0};
  if (const char sign = in.one_of("Zz+-"); sign == '+' || sign == '-') {
    const int offset_h = in.number(2);
    in.one_of(":");
    const int offset_min = in.number(2);
    if (offset_h > 23 || offset_min > 59) return std::nullopt;
    offset = std::chrono::minutes{(sign == '-' ? -1 : 1) * (offset_h * 60 + offset_min)};
  }
  const std::chrono::year_month_day date{std::chrono::year{year}, std::chrono::month{static_cast<unsigned>(month)},
                                         std::chrono::day{static_cast<unsigned>(day)}};
  if (!in.finished() || !date.ok() || hour > 23 || minute > 59 || second > 60) return std::nullopt;
  if (second == 60 && leap == LeapSecond::refused) return std::nullopt;
  const auto start = std::chrono::sys_days{date} + std::chrono::hours{hour} + std::chrono::minutes{minute} - offset;
  // RFC 3339, 5.7: a leap second stands at the end of a UTC day only.
  const auto end_of_day = std::chrono::ceil<std::chrono::days>(start);
  if (second == 60 && end_of_day - start != std::chrono::minutes{1}) return std::nullopt;
  return WallInstant{start} + std::chrono::seconds{second} + fraction;
}

std::optional<std::chrono::sys_days> day_of(std::string_view text) {
  if (text.size() != 10) return std::nullopt;
  const auto midnight = instant_of(std::string{text} + "T00:00:00Z");
  return midnight ? std::optional{std::chrono::floor<std::chrono::days>(*midnight)} : std::nullopt;
}

} // namespace oxherd::config
