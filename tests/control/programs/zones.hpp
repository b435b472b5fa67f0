#pragma once

#include <chrono>

#include "control/programs/civil_time.hpp"

/// Offsets of time zones as plain values, and times in them.
namespace oxherd::control::zones {

using namespace std::chrono;

inline constexpr year_month_day spring_day = 2027y / 3 / 28, autumn_day = 2027y / 10 / 31;

/// UTC+1, and UTC+2 from the last Sunday of March, 01:00 UTC, to the last Sunday of October, 01:00 UTC.
inline seconds central_europe(WallTime at) {
  const auto year = year_month_day{floor<days>(at)}.year();
  const auto spring = sys_days{year / March / Sunday[last]} + hours{1};
  const auto autumn = sys_days{year / October / Sunday[last]} + hours{1};
  return at >= spring && at < autumn ? hours{2} : hours{1};
}
inline seconds utc_only(WallTime) { return seconds{0}; }

inline WallTime utc(year_month_day date, int h = 0, int min = 0, int s = 0) {
  return sys_days{date} + hours{h} + minutes{min} + seconds{s};
}
inline LocalTime local(year_month_day date, int h = 0, int min = 0) {
  return local_days{date} + hours{h} + minutes{min};
}

} // namespace oxherd::control::zones
