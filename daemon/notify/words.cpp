#include "daemon/notify/words.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::notify {
namespace {

constexpr std::size_t brief_characters = 160; ///< what fits into the shortest of messages
constexpr std::size_t listed_max = 20;

/// Bytes of the code point that begins here; 0: none does.
std::size_t code_point_bytes(std::string_view text) {
  const auto first = static_cast<unsigned char>(text.front());
  const std::size_t n = first < 0x80                    ? 1
                        : first >= 0xC2 && first < 0xE0 ? 2
                        : first >= 0xE0 && first < 0xF0 ? 3
                        : first >= 0xF0 && first < 0xF5 ? 4
                                                        : 0;
  if (n == 0 || n > text.size()) return 0;
  const auto continues = [](char c) { return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U; };
  return std::all_of(text.begin() + 1, text.begin() + static_cast<std::ptrdiff_t>(n), continues) ? n : 0;
}

std::string day_and_minute(const Sender& sender, WallTime at) {
  auto text = local_time(sender.zone, at).substr(0, 16);
  text[10] = ' ';
  return text;
}

std::string both_times(const Sender& sender, WallTime at) {
  return fmt::format("{} ({}), {}Z", local_time(sender.zone, at), sender.zone.name, rfc3339(at).substr(0, 19));
}

/// " 19.29 % (limit 19.5 %)", as far as it is known.
std::string numbers(const Facts& f) {
  std::string text = f.value_text.empty() ? "" : " " + f.value_text.substr(0, f.value_text.find(" ± "));
  if (!f.limit_text.empty()) text += fmt::format(" (limit {})", f.limit_text);
  return text;
}

std::string alarm_brief(const Facts& f, const Sender& sender) {
  const auto time = day_and_minute(sender, f.raised);
  switch (f.about) {
  case About::low_oxygen:
    return fmt::format("LOW OXYGEN {}{} {}. Get out, stay out. No rescue without breathing apparatus. Supplementary "
                       "alarm.",
                       f.room, numbers(f), time);
  case About::high_carbon_dioxide:
    return fmt::format("HIGH CO2 {}{} {}. Get out, stay out. Supplementary alarm.", f.room, numbers(f), time);
  case About::not_monitored:
    return fmt::format("{} IS NOT MONITORED {}. Treat its air as unknown: stay out, or test it. Supplementary alarm.",
                       f.room, time);
  case About::other: break;
  }
  return fmt::format("{} {}/{}{} {}. Supplementary alarm.",
                     f.priority == alarms::Priority::critical ? "CRITICAL" : "ALARM", f.room, f.alarm, numbers(f),
                     time);
}

std::string brief_of(const Message& m, const Sender& sender) {
  const auto more = m.alarms.size() > 1 ? fmt::format(" And {} more.", m.alarms.size() - 1) : std::string{};
  switch (m.kind) {
  case Kind::alarm: return alarm_brief(m.alarms.front(), sender) + more;
  case Kind::returned:
    return fmt::format("{}/{}: condition ended {}. This does not mean the room is safe. Test before entry.{}",
                       m.alarms.front().room, m.alarms.front().alarm, day_and_minute(sender, m.at), more);
  case Kind::hidden:
    return fmt::format("{}/{} is hidden now. You will not be warned. Use a certified monitor.{}", m.alarms.front().room,
                       m.alarms.front().alarm, more);
  case Kind::digest:
    return fmt::format("{} alarms of low priority at {}, first {}/{}", m.alarms.size(), sender.site,
                       m.alarms.front().room, m.alarms.front().alarm);
  case Kind::route_test:
    return fmt::format("TEST ALARM {} from Oxherd at {}. No danger. Answer to prove the route: oxherd notify answer {}",
                       m.number, sender.site, m.number);
  case Kind::trouble: return fmt::format("PEOPLE MAY NOT BE REACHED at {}: {}", sender.site, m.words);
  }
  return {};
}

std::string facts_lines(const Facts& f, const Message& m, const Sender& sender) {
  std::string out = f.text;
  if (m.kind == Kind::returned && f.text.empty())
    out = fmt::format("{}: the condition of {} ended. This does not mean the room is safe. Test before entry.", f.room,
                      f.alarm);
  out += fmt::format("\n\nRoom:   {}\nAlarm:  {}, {} priority, {} class\nState:  {}\n", f.room, f.alarm,
                     alarms::name_of(f.priority), f.safety ? "safety" : "process", alarms::name_of(f.state));
  if (!f.value_text.empty()) out += fmt::format("Value:  {}\n", f.value_text);
  if (!f.limit_text.empty()) out += fmt::format("Limit:  {}\n", f.limit_text);
  return out + fmt::format("Since:  {}\n", both_times(sender, f.raised));
}

std::string body_of(const Message& m, const Sender& sender) {
  std::string out;
  if (m.kind == Kind::trouble) return m.words + '\n';
  if (m.kind == Kind::route_test)
    return fmt::format("TEST ALARM {} from Oxherd at {}, {}. No danger. Acknowledge to prove the route. If you did not "
                       "expect it, tell {}.\n\nAnswer with:  oxherd notify answer {} --by \"your name\"\n",
                       m.number, sender.site, both_times(sender, m.at),
                       sender.owner.empty() ? "whoever looks after it" : sender.owner, m.number);
  const bool one_by_one = m.kind != Kind::digest;
  if (one_by_one) out = facts_lines(m.alarms.front(), m, sender);
  const std::size_t first = one_by_one ? 1 : 0;
  if (m.alarms.size() > first) out += one_by_one ? "\nAlso:\n" : "Came since the last digest:\n";
  for (std::size_t i = first; i < std::min(m.alarms.size(), listed_max); ++i) {
    const auto& f = m.alarms[i];
    out += fmt::format("- {}/{}, {}, since {}{}: {}\n", f.room, f.alarm, alarms::name_of(f.state),
                       local_time(sender.zone, f.raised), f.value_text.empty() ? "" : ", " + f.value_text, f.text);
  }
  if (m.alarms.size() > listed_max) out += fmt::format("- and {} more\n", m.alarms.size() - listed_max);
  if (m.kind == Kind::alarm)
    out += fmt::format("\nAcknowledge with:  oxherd acknowledge {}/{} --by \"your name\"\n", m.alarms.front().room,
                       m.alarms.front().alarm);
  return out;
}

} // namespace

std::string local_time(const config::TimeZone& zone, WallTime at) {
  const auto offset = config::offset_s(zone, at);
  const auto shifted = rfc3339(at + std::chrono::seconds{offset}).substr(0, 19);
  const auto size = offset < 0 ? -offset : offset;
  return fmt::format("{}{}{:02}:{:02}", shifted, offset < 0 ? '-' : '+', size / 3600, size % 3600 / 60);
}

std::string one_line(std::string_view text, std::size_t characters) {
  std::string out, cut; // `cut`: what stays when something must be cut
  for (std::size_t n = 0; !text.empty(); ++n) {
    if (n == characters) return cut + "...";
    if (n + 3 == characters) cut = out;
    const auto bytes = code_point_bytes(text);
    const bool control = bytes == 1 && (static_cast<unsigned char>(text.front()) < 0x20 || text.front() == 0x7F);
    out += bytes == 0 ? "?" : control ? " " : std::string{text.substr(0, bytes)};
    text.remove_prefix(std::max<std::size_t>(bytes, 1));
  }
  return out;
}

Words words_of(const Message& m, const Sender& sender) {
  Words words;
  const bool marked = is_test(m) && m.kind != Kind::route_test;
  words.brief = one_line((marked ? "TEST " : "") + brief_of(m, sender), brief_characters);
  words.body =
      fmt::format("{}{}\nMessage {} of {}{}, {}\n\n{}\n", marked ? "TEST. No danger.\n" : "", body_of(m, sender),
                  m.number, sender.site, m.step > 0 ? fmt::format(", step {}", m.step) : std::string{},
                  both_times(sender, m.at), alarms::caution_short());
  return words;
}

} // namespace oxherd::daemon::notify
