#include "config/hours.hpp"

#include <algorithm>
#include <array>
#include <charconv>

#include <fmt/core.h>

#include "config/nearest.hpp"
#include "config/zone_file.hpp"

namespace oxherd::config {
namespace {

constexpr std::array<std::string_view, 7> day_words{"monday", "tuesday",  "wednesday", "thursday",
                                                    "friday", "saturday", "sunday"};

constexpr std::string_view days_together[]{"every day", "Monday to Friday", "Saturday and Sunday"};
constexpr std::array<std::array<bool, 7>, 3> together{{{true, true, true, true, true, true, true},
                                                       {true, true, true, true, true, false, false},
                                                       {false, false, false, false, false, true, true}}};

std::string in_words(const std::array<bool, 7>& days) {
  for (std::size_t i = 0; i < together.size(); ++i)
    if (days == together.at(i)) return std::string{days_together[i]};
  std::string text;
  for (std::size_t d = 0; d < days.size(); ++d) {
    if (!days.at(d)) continue;
    std::string name{day_words.at(d)};
    name[0] = static_cast<char>(name[0] - 'a' + 'A');
    text += (text.empty() ? "" : ", ") + name;
  }
  return text;
}

} // namespace

std::optional<int> digits(std::string_view text) {
  int value = 0;
  const auto [end, fault] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (text.empty() || fault != std::errc{} || end != text.data() + text.size() || value < 0) return std::nullopt;
  return value;
}

std::optional<int> time_of_day(std::string_view text) {
  if (text.size() != 5 || text[2] != ':') return std::nullopt;
  const auto hour = digits(text.substr(0, 2));
  const auto minute = digits(text.substr(3));
  if (!hour || !minute || *minute > 59 || *hour > 24 || (*hour == 24 && *minute > 0)) return std::nullopt;
  return *hour * 60 + *minute;
}

std::optional<int> read_time_of_day(TableReader& in, std::string_view key) {
  const auto text = in.text(key);
  if (!text) return std::nullopt;
  const auto minute = time_of_day(*text);
  if (!minute) in.error(key, fmt::format("\"{}\" is no time of day; write for example \"08:30\"", *text));
  return minute;
}

TimeZone read_time_zone(TableReader& in, const TimeZone& otherwise) {
  const auto name = in.text("time_zone");
  if (!name) return otherwise;
  const auto rules = load_named_zone(*name);
  if (rules) return {*name, *rules};
  in.error("time_zone", rules.error());
  return otherwise;
}

WeeklyHours read_hours(TableReader& in, WeeklyHours hours) {
  hours.from = read_time_of_day(in, "from").value_or(hours.from);
  hours.to = read_time_of_day(in, "to").value_or(hours.to);
  if (!in.has("days")) return hours;
  hours.days.fill(false);
  for (const auto& word : in.texts("days")) {
    const auto found = std::find(day_words.begin(), day_words.end(), word);
    if (found == day_words.end())
      in.error("days", fmt::format("\"{}\" is no day; write {}", word,
                                   listed_nearest_first(word, {day_words.begin(), day_words.end()})));
    else
      hours.days[static_cast<std::size_t>(found - day_words.begin())] = true;
  }
  return hours;
}

std::string clock_text(int minute_of_day) { return fmt::format("{:02}:{:02}", minute_of_day / 60, minute_of_day % 60); }

std::string hours_text(const WeeklyHours& hours) {
  const bool daily = hours.days == together[0];
  return fmt::format("{} to {}{}", clock_text(hours.from), clock_text(hours.to),
                     daily ? "" : ", " + in_words(hours.days));
}

} // namespace oxherd::config
