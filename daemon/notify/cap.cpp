#include <algorithm>

#include <fmt/core.h>

#include "daemon/notify/formats.hpp"

// Elements stand in the order of the schema of CAP-V1.2, section 3.4 (from memory).
namespace oxherd::daemon::notify {
namespace {

/// Text of an element. Control characters that XML 1.0 does not know become blanks.
std::string xml_text(std::string_view text) {
  std::string out;
  for (const char c : text) {
    switch (c) {
    case '&': out += "&amp;"; break;
    case '<': out += "&lt;"; break;
    case '>': out += "&gt;"; break;
    case '"': out += "&quot;"; break;
    default: out += static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t' ? ' ' : c;
    }
  }
  return out;
}

std::string element(std::string_view name, std::string_view text, int indent = 2) {
  return fmt::format("{:{}}<{}>{}</{}>\n", "", indent, name, xml_text(text), name);
}

/// 3.3.2: with an offset; UTC is written -00:00 and never Z.
std::string cap_time(const Sender& sender, WallTime at) {
  auto text = local_time(sender.zone, at);
  if (text.ends_with("+00:00")) text[19] = '-';
  return text;
}

std::string cap_sender(const Sender& sender) { return "oxherd." + sender.site; }

std::string cap_parameter(std::string_view name, std::string_view value) {
  return fmt::format("    <parameter>\n{}{}    </parameter>\n", element("valueName", name, 6),
                     element("value", value, 6));
}

/// What a receiver may do by itself. Never AllClear: no message says that a room is safe.
std::string_view response_to(const Message& m) {
  if (is_test(m)) return "None";
  if (m.kind != Kind::alarm) return "Assess";
  switch (m.alarms.front().about) {
  case About::low_oxygen:
  case About::high_carbon_dioxide: return "Evacuate";
  case About::not_monitored: return "Avoid";
  case About::other: break;
  }
  return m.alarms.front().safety ? "Avoid" : "Assess";
}

std::string_view severity_word(const Message& m) {
  if (m.alarms.empty()) return is_test(m) ? "Unknown" : "Severe";
  switch (m.alarms.front().priority) {
  case alarms::Priority::critical: return "Extreme";
  case alarms::Priority::high: return "Severe";
  case alarms::Priority::medium: return "Moderate";
  case alarms::Priority::low: return "Minor";
  }
  return "Extreme";
}

std::string_view urgency_word(const Message& m) {
  if (m.kind == Kind::returned) return "Past";
  if (m.kind == Kind::alarm && cannot_wait(m)) return "Immediate";
  return m.kind == Kind::digest ? "Future" : "Expected";
}

/// What a person has still to acknowledge or to reset is not over.
bool all_normal(const Message& m) {
  return std::all_of(m.alarms.begin(), m.alarms.end(), [](const Facts& f) { return f.state == alarms::State::normal; });
}

/// Two addresses are told apart by blanks, so that one with a blank stands in quotes (3.2.1).
std::string addresses(const config::Contact& to) {
  const auto& name = to.address.empty() ? to.name : to.address;
  return name.find(' ') == std::string::npos ? name : "\"" + name + "\"";
}

std::string references(const Message& m, const Sender& sender) {
  std::string out;
  for (const auto& before : m.earlier)
    out +=
        fmt::format("{}{},{},{}", out.empty() ? "" : " ", cap_sender(sender), before.id, cap_time(sender, before.at));
  return out;
}

std::string area_of(const Message& m, const Sender& sender) {
  const bool one_room = m.kind != Kind::digest && !m.alarms.empty();
  return fmt::format("    <area>\n{}    </area>\n",
                     element("areaDesc", one_room ? sender.site + ", room " + m.alarms.front().room : sender.site, 6));
}

} // namespace

std::string cap_text(const Message& m, const Sender& sender, const config::Contact& to) {
  const auto words = words_of(m, sender);
  const bool over = m.kind == Kind::returned;
  const std::string_view type = m.earlier.empty() ? "Alert" : over && all_normal(m) ? "Cancel" : "Update";
  std::string out = "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<alert "
                    "xmlns=\"urn:oasis:names:tc:emergency:cap:1.2\">\n";
  out += element("identifier", m.id) + element("sender", cap_sender(sender)) + element("sent", cap_time(sender, m.at));
  out += element("status", is_test(m) ? "Test" : "Actual") + element("msgType", type);
  out += element("scope", "Private") + element("addresses", addresses(to));
  if (over) out += element("note", "The condition ended. This does not mean that the room is safe.");
  if (!m.earlier.empty()) out += element("references", references(m, sender));
  out += "  <info>\n" + element("language", "en", 4) + element("category", "Safety", 4);
  out += element("event", m.alarms.empty() ? name_of(m.kind) : m.alarms.front().alarm, 4);
  out += element("responseType", response_to(m), 4) + element("urgency", urgency_word(m), 4);
  out += element("severity", severity_word(m), 4) + element("certainty", "Observed", 4);
  if (!m.alarms.empty()) out += element("onset", cap_time(sender, m.alarms.front().raised), 4);
  out += element("senderName", "Oxherd at " + sender.site, 4) + element("headline", words.brief, 4);
  out += element("description", words.body, 4);
  if (!m.alarms.empty() && !m.alarms.front().text.empty()) out += element("instruction", m.alarms.front().text, 4);
  out += cap_parameter("number", std::to_string(m.number));
  for (const auto& f : m.alarms)
    out += cap_parameter("alarm", f.room + "/" + f.alarm + " " + std::string{name_of(f.state)});
  return out + area_of(m, sender) + "  </info>\n</alert>\n";
}

} // namespace oxherd::daemon::notify
