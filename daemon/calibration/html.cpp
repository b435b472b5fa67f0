#include "daemon/calibration/html.hpp"

#include <fmt/core.h>

namespace oxherd::daemon {

std::string html_text(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    switch (c) {
    case '&': out += "&amp;"; break;
    case '<': out += "&lt;"; break;
    case '>': out += "&gt;"; break;
    case '"': out += "&quot;"; break;
    case '\'': out += "&#39;"; break;
    case '\n':
    case '\t': out += c; break;
    default:
      if (byte < 0x20 || byte == 0x7F)
        out += "\uFFFD";
      else
        out += c;
    }
  }
  return out;
}

std::string css_string(std::string_view text) {
  std::string out = "\"";
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == ' ';
    if (plain || byte >= 0x80) // UTF-8 passes
      out += c;
    else
      out += fmt::format("\\{:06x}", static_cast<unsigned>(byte)); // six digits need no space behind them
  }
  return out + "\"";
}

} // namespace oxherd::daemon
