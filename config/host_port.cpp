#include "config/host_port.hpp"

#include <algorithm>
#include <charconv>

#include <fmt/core.h>

namespace oxherd::config {
namespace {

bool is_host_character(char c) {
  const bool letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
  return letter || (c >= '0' && c <= '9') || c == '.' || c == '-' || c == '_';
}
bool is_numeric_v6_character(char c) {
  return (c >= '0' && c <= '9') || (c >= 'a' && c <= 'f') || (c >= 'A' && c <= 'F') || c == ':' || c == '.';
}

} // namespace

tl::expected<HostPort, std::string> host_and_port(std::string_view text, int default_port) {
  const auto refuse = [&] {
    return tl::unexpected(
        fmt::format("\"{}\" is not an address; write host:port, such as \"127.0.0.1:{}\"", text, default_port));
  };
  std::string_view host = text;
  std::string_view port;
  bool has_port = false;
  const bool bracketed = text.starts_with('[');
  if (bracketed) {
    const auto close = text.find(']');
    if (close == text.npos) return refuse();
    host = text.substr(1, close - 1);
    const std::string_view rest = text.substr(close + 1);
    if (!rest.empty() && rest.front() != ':') return refuse();
    has_port = !rest.empty();
    if (has_port) port = rest.substr(1);
  } else if (const auto colon = text.find(':'); colon != text.npos) {
    host = text.substr(0, colon);
    has_port = true;
    port = text.substr(colon + 1);
  }
  const auto fits = bracketed ? is_numeric_v6_character : is_host_character;
  if (host.empty() || !std::all_of(host.begin(), host.end(), fits)) return refuse();
  HostPort result{std::string{host}, default_port};
  if (!has_port) return result;
  const auto [end, fault] = std::from_chars(port.data(), port.data() + port.size(), result.port);
  if (fault != std::errc{} || end != port.data() + port.size()) return refuse();
  if (result.port < 1 || result.port > 65535)
    return tl::unexpected(fmt::format("port {} is outside 1 to 65535", result.port));
  return result;
}

} // namespace oxherd::config
