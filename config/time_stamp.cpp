#include "config/time_stamp.hpp"

#include <cstddef>

namespace oxherd::config {
namespace {

/// Takes characters off the front of a time stamp; any misfit makes it useless for good.
class StampScanner {
public:
  explicit StampScanner(std::string_view text) : rest_{text} {}
  int digits(std::size_t count) {
    int value = 0;
    for (std::size_t i = 0; i < count; ++i) {
      const char c = take();
      if (c < '0' || c > '9') return fail();
      value = value * 10 + (c - '0');
    }
    return value;
  }
  char one_of(std::string_view accepted) {
    const char c = take();
    if (c == '\0' || accepted.find(c) == accepted.npos) fail();
    return c;
  }
  [[nodiscard]] char next() const { return rest_.empty() ? '\0' : rest_.front(); }
  [[nodiscard]] bool done() const { return ok_ && rest_.empty(); }
  int fail() {
    ok_ = false;
    return 0;
  }

private:
  char take() {
    const char c = next();
    if (rest_.empty())
      fail();
    else
      rest_.remove_prefix(1);
    return c;
  }
  std::string_view rest_;
  bool ok_ = true;
};

int scan_milliseconds(StampScanner& in) {
  if (in.next() != '.') return 0;
  in.one_of(".");
  int value = 0;
  int count = 0;
  for (; in.next() >= '0' && in.next() <= '9'; ++count) {
    const int digit = in.digits(1);
    if (count < 3) value = value * 10 + digit;
  }
  if (count == 0) in.fail();
  for (; count < 3; ++count) value *= 10;
  return value;
}

} // namespace

std::optional<WallInstant> instant_of(std::string_view text) {
  using namespace std::chrono;
  StampScanner in{text};
  const int y = in.digits(4);
  in.one_of("-");
  const int mo = in.digits(2);
  in.one_of("-");
  const int d = in.digits(2);
  in.one_of("Tt ");
  const int h = in.digits(2);
  in.one_of(":");
  const int mi = in.digits(2);
  in.one_of(":");
  const int s = in.digits(2);
  const int ms = scan_milliseconds(in);
  minutes offset{0};
  const char sign = in.one_of("Zz+-");
  if (sign == '+' || sign == '-') {
    const int oh = in.digits(2);
    in.one_of(":");
    const int om = in.digits(2);
    if (oh > 23 || om > 59) return std::nullopt;
    offset = (sign == '-' ? -1 : 1) * (hours{oh} + minutes{om});
  }
  const year_month_day date{year{y}, month{static_cast<unsigned>(mo)}, day{static_cast<unsigned>(d)}};
  if (!in.done() || !date.ok() || h > 23 || mi > 59 || s > 59) return std::nullopt;
  return sys_days{date} + hours{h} + minutes{mi} + seconds{s} + milliseconds{ms} - offset;
}

} // namespace oxherd::config
