#include "daemon/json_text.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/format.h>

namespace oxherd::daemon {
namespace {

struct Utf8Step {
  std::size_t length = 1; ///< bytes to take, never 0
  bool valid = false;
};

/// The sequence at the start of `s`. Of a broken one it takes the longest part that could have begun a valid one
/// (Unicode 15, section 3.9, table 3-7 and "substitution of maximal subparts").
Utf8Step utf8_at(std::string_view s) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(s[i]); };
  const unsigned lead = byte(0);
  if (lead < 0x80) return {1, true};
  std::size_t length = 0;
  unsigned low = 0x80;  // bounds of the second byte: they keep out overlong forms, surrogates and what lies
  unsigned high = 0xBF; // above U+10FFFF
  if (lead >= 0xC2 && lead <= 0xDF) {
    length = 2;
  } else if (lead >= 0xE0 && lead <= 0xEF) {
    length = 3;
    if (lead == 0xE0) low = 0xA0;
    if (lead == 0xED) high = 0x9F;
  } else if (lead >= 0xF0 && lead <= 0xF4) {
    length = 4;
    if (lead == 0xF0) low = 0x90;
    if (lead == 0xF4) high = 0x8F;
  } else {
    return {1, false};
  }
  for (std::size_t i = 1; i < length; ++i) {
    if (i >= s.size() || byte(i) < low || byte(i) > high) return {i, false};
    low = 0x80;
    high = 0xBF;
  }
  return {length, true};
}

bool stands_for_itself(char c) {
  const auto byte = static_cast<unsigned char>(c);
  return byte >= 0x20 && byte < 0x80 && c != '"' && c != '\\';
}

void append_ascii(std::string& out, char c) {
  switch (c) {
  case '"': out += "\\\""; return;
  case '\\': out += "\\\\"; return;
  case '\n': out += "\\n"; return;
  case '\r': out += "\\r"; return;
  case '\t': out += "\\t"; return;
  default: break;
  }
  if (static_cast<unsigned char>(c) < 0x20)
    out += fmt::format("\\u{:04x}", static_cast<unsigned>(c));
  else
    out += c;
}

} // namespace

std::string json_string(std::string_view text) {
  std::string out = "\"";
  out.reserve(text.size() + 2);
  while (!text.empty()) {
    const auto plain =
        static_cast<std::size_t>(std::find_if_not(text.begin(), text.end(), stands_for_itself) - text.begin());
    out += text.substr(0, plain);
    text.remove_prefix(plain);
    if (text.empty()) break;
    const auto step = utf8_at(text);
    if (!step.valid)
      out += "\xEF\xBF\xBD"; // U+FFFD
    else if (step.length == 1)
      append_ascii(out, text.front());
    else
      out += text.substr(0, step.length);
    text.remove_prefix(step.length);
  }
  out += '"';
  return out;
}

std::string json_number(double value) { return std::isfinite(value) ? fmt::format("{}", value) : "null"; }

std::string json_array(const std::vector<std::string>& elements) {
  return fmt::format("[{}]", fmt::join(elements, ","));
}

JsonObject& JsonObject::json(std::string_view key, std::string_view already_json) {
  if (!members_.empty()) members_ += ',';
  members_ += json_string(key);
  members_ += ':';
  members_ += already_json;
  return *this;
}

JsonObject& JsonObject::text(std::string_view key, std::string_view value) { return json(key, json_string(value)); }

JsonObject& JsonObject::number(std::string_view key, std::optional<double> value) {
  return json(key, value ? json_number(*value) : "null");
}

JsonObject& JsonObject::integer(std::string_view key, std::int64_t value) {
  return json(key, fmt::format("{}", value));
}

JsonObject& JsonObject::flag(std::string_view key, std::optional<bool> value) {
  if (!value) return json(key, "null");
  return json(key, *value ? "true" : "false");
}

std::string JsonObject::str() const { return "{" + members_ + "}"; }

} // namespace oxherd::daemon
