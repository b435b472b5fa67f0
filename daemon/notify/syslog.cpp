#include <algorithm>

#include <fmt/core.h>

#include "daemon/notify/formats.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::notify {
namespace {

/// A datagram of 2048 octets should be taken by any receiver (RFC 5426, 3.2); this leaves room for the rest of it.
constexpr std::size_t text_characters = 1000;

/// PARAM-VALUE: '"', '\' and ']' are escaped (RFC 5424, 6.3.3).
std::string sd_parameter(std::string_view name, std::string_view value) {
  std::string escaped;
  for (const char c : one_line(value, 200)) {
    if (c == '"' || c == '\\' || c == ']') escaped += '\\';
    escaped += c;
  }
  return fmt::format(" {}=\"{}\"", name, escaped);
}

/// Of a header field: printable ASCII without blanks, and "-" for nothing (RFC 5424, 6).
std::string field(std::string_view text, std::size_t longest) {
  std::string out;
  for (const char c : text.substr(0, longest)) out += c > 0x20 && c < 0x7F ? c : '_';
  return out.empty() ? "-" : out;
}

/// The enterprise number that RFC 5612 sets apart for examples: the project has none of its own.
constexpr std::string_view data_id = "oxherd@32473";

} // namespace

int severity_of(const Message& m) {
  if (is_test(m)) return 6;
  switch (m.kind) {
  case Kind::trouble: return 3;
  case Kind::returned:
  case Kind::digest: return 5;
  case Kind::hidden: return 4;
  case Kind::route_test: return 6;
  case Kind::alarm: break;
  }
  switch (m.alarms.front().priority) {
  case alarms::Priority::critical: return 1;
  case alarms::Priority::high: return 2;
  case alarms::Priority::medium: return 4;
  case alarms::Priority::low: return 5;
  }
  return 1;
}

std::string syslog_text(const Message& m, const Sender& sender, int facility, const std::string& host_name,
                        int process) {
  std::string data =
      fmt::format("[{}{}{}", data_id, sd_parameter("id", m.id), sd_parameter("number", std::to_string(m.number)));
  data += sd_parameter("site", sender.site) + sd_parameter("contact", m.contact) +
          sd_parameter("test", is_test(m) ? "yes" : "no");
  if (!m.alarms.empty()) {
    const auto& f = m.alarms.front();
    data += sd_parameter("room", f.room) + sd_parameter("alarm", f.alarm) +
            sd_parameter("state", alarms::name_of(f.state)) + sd_parameter("priority", alarms::name_of(f.priority)) +
            sd_parameter("value", f.value_text) + sd_parameter("limit", f.limit_text);
    if (m.alarms.size() > 1) data += sd_parameter("more", std::to_string(m.alarms.size() - 1));
  }
  data += ']';
  const auto words = words_of(m, sender);
  std::string kind{name_of(m.kind)};
  std::transform(kind.begin(), kind.end(), kind.begin(),
                 [](char c) { return c >= 'a' && c <= 'z' ? static_cast<char>(c - 'a' + 'A') : c; });
  // The byte order mark says that the text is UTF-8 (RFC 5424, 6.4).
  return fmt::format("<{}>1 {} {} oxherd {} {} {} \xEF\xBB\xBF{}", facility * 8 + severity_of(m), rfc3339(m.at),
                     field(host_name, 255), process, field(kind, 32), data,
                     one_line(words.brief + " | " + words.body, text_characters));
}

std::string octet_counted(std::string_view text) { return fmt::format("{} {}", text.size(), text); }

} // namespace oxherd::daemon::notify
