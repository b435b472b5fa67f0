#include <array>
#include <ctime>

#include <fmt/core.h>

#include "daemon/notify/formats.hpp"

namespace oxherd::daemon::notify {
namespace {

constexpr std::string_view hex_digits = "0123456789ABCDEF";

std::string hex_byte(char c) {
  const auto byte = static_cast<unsigned char>(c);
  return {hex_digits[byte >> 4U], hex_digits[byte & 15U]};
}

bool is_printable_ascii(std::string_view text) {
  for (const char c : text)
    if (c < 0x20 || c > 0x7E) return false;
  return true;
}

/// Encoded words of at most 75 characters, none of which cuts a code point (RFC 2047, 2 and 5).
std::string encoded_words(std::string_view text) {
  constexpr std::string_view head = "=?utf-8?Q?";
  constexpr std::size_t longest = 75 - head.size() - 2;
  std::string out{head};
  std::size_t used = 0;
  for (std::size_t i = 0; i < text.size();) {
    std::size_t end = i + 1;
    while (end < text.size() && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) ++end;
    std::string piece;
    for (const char c : text.substr(i, end - i)) {
      const bool plain = (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z');
      piece += plain ? std::string{c} : c == ' ' ? "_" : "=" + hex_byte(c);
    }
    if (used + piece.size() > longest) {
      out += fmt::format("?=\r\n {}", head);
      used = 0;
    }
    out += piece;
    used += piece.size();
    i = end;
  }
  return out + "?=";
}

/// Unstructured text of a header, folded at blanks so that no line passes 78 characters where it can be avoided.
std::string header_text(const std::string& text, std::size_t name_bytes) {
  if (!is_printable_ascii(text)) return encoded_words(text);
  std::string out;
  std::size_t column = name_bytes;
  std::size_t begin = 0;
  while (begin < text.size()) {
    auto end = text.find(' ', begin + 1);
    if (end == std::string::npos) end = text.size();
    if (column + (end - begin) > 76 && begin > 0 && text[begin] == ' ') {
      out += "\r\n";
      column = 0;
    }
    out += text.substr(begin, end - begin);
    column += end - begin;
    begin = end;
  }
  return out;
}

std::string display_name(const std::string& name) {
  if (!is_printable_ascii(name)) return encoded_words(name);
  std::string out = "\"";
  for (const char c : name) {
    if (c == '"' || c == '\\') out += '\\';
    out += c;
  }
  return out + '"';
}

std::string quoted_printable(std::string_view text) {
  std::string out;
  std::size_t column = 0;
  for (std::size_t i = 0; i < text.size(); ++i) {
    const char c = text[i];
    if (c == '\n') {
      out += "\r\n";
      column = 0;
      continue;
    }
    const bool at_end = i + 1 == text.size() || text[i + 1] == '\n';
    const bool plain = (c > 0x20 && c < 0x7F && c != '=') || (c == ' ' && !at_end);
    const std::string piece = plain ? std::string{c} : "=" + hex_byte(c);
    if (column + piece.size() > 75) {
      out += "=\r\n";
      column = 0;
    }
    out += piece;
    column += piece.size();
  }
  return out;
}

/// RFC 5322, 3.3, in English whatever the locale.
std::string mail_date(const config::TimeZone& zone, WallTime at) {
  static constexpr std::array<std::string_view, 7> days{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
  static constexpr std::array<std::string_view, 12> months{"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                                           "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
  const auto local = local_time(zone, at);
  const auto day = std::chrono::floor<std::chrono::days>(at + std::chrono::seconds{config::offset_s(zone, at)});
  const std::chrono::year_month_day date{day};
  return fmt::format("{}, {:02} {} {:04} {} {}{}", days[std::chrono::weekday{day}.c_encoding()],
                     static_cast<unsigned>(date.day()), months[static_cast<unsigned>(date.month()) - 1],
                     static_cast<int>(date.year()), local.substr(11, 8), local.substr(19, 3), local.substr(23, 2));
}

std::string message_id(const std::string& id, const std::string& from) {
  const auto at = from.find('@');
  return fmt::format("<{}@{}>", id, at == std::string::npos ? "oxherd.invalid" : from.substr(at + 1));
}

} // namespace

std::string mail_text(const Message& m, const Sender& sender, const config::Contact& to, const std::string& from) {
  const auto words = words_of(m, sender);
  std::string out;
  const auto header = [&](std::string_view name, const std::string& value) {
    out += fmt::format("{}: {}\r\n", name, value);
  };
  header("Date", mail_date(sender.zone, m.at));
  header("From", fmt::format("{} <{}>", display_name("Oxherd at " + sender.site), from));
  header("To", fmt::format("{} <{}>", display_name(one_line(to.person, 60)), to.address));
  header("Subject", header_text(words.brief, 9));
  header("Message-ID", message_id(m.id, from));
  if (!m.earlier.empty()) {
    header("In-Reply-To", message_id(m.earlier.back().id, from));
    header("References", message_id(m.earlier.front().id, from));
  }
  if (cannot_wait(m) && !is_test(m)) header("Importance", "high");
  header("Auto-Submitted", "auto-generated");
  header("MIME-Version", "1.0");
  header("Content-Type", "text/plain; charset=utf-8");
  header("Content-Transfer-Encoding", "quoted-printable");
  return out + "\r\n" + quoted_printable(words.body);
}

} // namespace oxherd::daemon::notify
