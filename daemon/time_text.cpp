#include "daemon/time_text.hpp"

#include <ctime>

#include <fmt/core.h>

#include "config/time_stamp.hpp"

namespace oxherd::daemon {

std::string rfc3339(WallTime t) {
  const auto day = std::chrono::floor<std::chrono::days>(t);
  const std::chrono::year_month_day date{day};
  const std::chrono::hh_mm_ss<std::chrono::milliseconds> time{t - day};
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}.{:03}Z", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), time.hours().count(),
                     time.minutes().count(), time.seconds().count(), time.subseconds().count());
}

std::string rfc3339_local(WallTime t) {
  const std::time_t seconds = std::chrono::floor<std::chrono::seconds>(t).time_since_epoch().count();
  std::tm local{};
  if (::localtime_r(&seconds, &local) == nullptr) return rfc3339(t);
  const long offset_min = local.tm_gmtoff / 60;
  const long size_min = offset_min < 0 ? -offset_min : offset_min;
  return fmt::format("{:04}-{:02}-{:02}T{:02}:{:02}:{:02}{}{:02}:{:02}", local.tm_year + 1900, local.tm_mon + 1,
                     local.tm_mday, local.tm_hour, local.tm_min, local.tm_sec, offset_min < 0 ? '-' : '+',
                     size_min / 60, size_min % 60);
}

std::optional<WallTime> parse_rfc3339(std::string_view text) {
  return config::instant_of(text, config::LeapSecond::next_minute);
}

} // namespace oxherd::daemon
