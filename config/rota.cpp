#include "config/rota.hpp"

#include <algorithm>
#include <string_view>

#include <fmt/core.h>

namespace oxherd::config {
namespace {

constexpr int minutes_of_week = 7 * minutes_of_day;
constexpr std::array<std::string_view, 7> week_days{"Monday", "Tuesday",  "Wednesday", "Thursday",
                                                    "Friday", "Saturday", "Sunday"};

/// 0 is Monday 00:00. The first of January 1970 was a Thursday.
int minute_of_week(LocalMinutes local) {
  const LocalMinutes since_monday = (local + 3 * minutes_of_day) % minutes_of_week;
  return static_cast<int>(since_monday < 0 ? since_monday + minutes_of_week : since_monday);
}

std::string week_text(int minute) {
  return fmt::format("{} {:02}:{:02}", week_days[static_cast<std::size_t>(minute / minutes_of_day) % 7],
                     minute % minutes_of_day / 60, minute % 60);
}

std::string date_text(LocalMinutes local) {
  const std::chrono::sys_time<std::chrono::minutes> at{std::chrono::minutes{local}};
  const auto day = std::chrono::floor<std::chrono::days>(at);
  const std::chrono::year_month_day date{day};
  const auto minute = (at - day).count();
  return fmt::format("{:04}-{:02}-{:02} {:02}:{:02}", static_cast<int>(date.year()),
                     static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()), minute / 60, minute % 60);
}

std::vector<std::string> gaps_of_week(const std::vector<Shift>& shifts, std::size_t most) {
  std::vector<bool> covered(minutes_of_week, false);
  for (int m = 0; m < minutes_of_week; ++m)
    covered[static_cast<std::size_t>(m)] = std::any_of(
        shifts.begin(), shifts.end(), [m](const Shift& s) { return is_within(s.hours, m - 3 * minutes_of_day); });
  std::vector<std::string> gaps;
  const auto at = [&](int m) { return covered[static_cast<std::size_t>(m % minutes_of_week)]; };
  for (int m = 0; m < minutes_of_week && gaps.size() < most; ++m) {
    if (at(m) || (!at(m + minutes_of_week - 1))) continue; // not the first minute of a gap
    int end = m;
    while (!at(end)) ++end;
    gaps.push_back(fmt::format("{} to {}", week_text(m), week_text(end)));
  }
  if (gaps.empty() && !at(0)) gaps.emplace_back("the whole week");
  return gaps;
}

std::vector<std::string> gaps_between(std::vector<DatedShift> shifts, std::size_t most) {
  std::sort(shifts.begin(), shifts.end(), [](const auto& a, const auto& b) { return a.from < b.from; });
  std::vector<std::string> gaps;
  LocalMinutes end = shifts.front().from;
  for (const auto& shift : shifts) {
    if (shift.from > end && gaps.size() + 1 < most)
      gaps.push_back(fmt::format("{} to {}", date_text(end), date_text(shift.from)));
    end = std::max(end, shift.to);
  }
  gaps.push_back(fmt::format("from {} on", date_text(end)));
  return gaps;
}

void add_once(std::vector<std::string>& names, const std::string& name) {
  if (std::find(names.begin(), names.end(), name) == names.end()) names.push_back(name);
}

} // namespace

std::int64_t offset_s(const TimeZone& zone, std::chrono::sys_time<std::chrono::milliseconds> at) {
  if (!zone.rules) return 0;
  return zone.rules->at(std::chrono::floor<std::chrono::seconds>(at).time_since_epoch().count()).offset_s;
}

LocalMinutes local_minutes(const TimeZone& zone, std::chrono::sys_time<std::chrono::milliseconds> at) {
  const auto local = std::chrono::floor<std::chrono::seconds>(at) + std::chrono::seconds{offset_s(zone, at)};
  return std::chrono::floor<std::chrono::minutes>(local).time_since_epoch().count();
}

bool is_within(const WeeklyHours& hours, LocalMinutes local) {
  const int minute = minute_of_week(local);
  const auto day = static_cast<std::size_t>(minute / minutes_of_day);
  const int of_day = minute % minutes_of_day;
  if (hours.from < hours.to) return hours.days[day] && of_day >= hours.from && of_day < hours.to;
  return (hours.days[day] && of_day >= hours.from) || (hours.days[(day + 6) % 7] && of_day < hours.to);
}

std::vector<std::string> on_duty(const Rota& rota, std::chrono::sys_time<std::chrono::milliseconds> at) {
  const LocalMinutes local = local_minutes(rota.zone, at);
  std::vector<std::string> names;
  for (const auto& shift : rota.dated)
    if (local >= shift.from && local < shift.to) add_once(names, shift.contact);
  if (!names.empty()) return names;
  for (const auto& shift : rota.weekly)
    if (is_within(shift.hours, local)) add_once(names, shift.contact);
  if (names.empty() && rota.otherwise) names.push_back(*rota.otherwise);
  return names;
}

std::vector<std::string> everyone_in(const Rota& rota) {
  std::vector<std::string> names;
  for (const auto& shift : rota.weekly) add_once(names, shift.contact);
  for (const auto& shift : rota.dated) add_once(names, shift.contact);
  if (rota.otherwise) add_once(names, *rota.otherwise);
  return names;
}

std::vector<std::string> gaps_in(const Rota& rota, std::size_t most) {
  if (rota.otherwise) return {};
  if (!rota.weekly.empty()) return gaps_of_week(rota.weekly, most);
  if (!rota.dated.empty()) return gaps_between(rota.dated, most);
  return {"always: it names nobody"};
}

} // namespace oxherd::config
