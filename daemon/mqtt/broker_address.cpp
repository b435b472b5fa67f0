#include "daemon/mqtt/broker_address.hpp"

#include <charconv>
#include <string_view>

#include <fmt/core.h>

namespace oxherd::daemon {

tl::expected<BrokerAddress, std::string> parse_broker(const std::string& text) {
  const auto refuse = [&] {
    return tl::unexpected(
        fmt::format("mqtt.broker: \"{}\" is no broker; write mqtt://host:1883, or mqtts://host:8883 for TLS", text));
  };
  BrokerAddress address;
  std::string_view rest = text;
  if (rest.starts_with("mqtts://")) {
    address.tls = true;
    address.port = 8883;
    rest.remove_prefix(8);
  } else if (rest.starts_with("mqtt://")) {
    rest.remove_prefix(7);
  } else {
    return refuse();
  }
  const bool bracketed = rest.starts_with('[');
  const auto host_end = bracketed ? rest.find(']') : rest.find(':');
  if (bracketed && host_end == std::string_view::npos) return refuse();
  address.host = rest.substr(bracketed ? 1 : 0, bracketed ? host_end - 1 : host_end);
  rest.remove_prefix(host_end == std::string_view::npos ? rest.size() : host_end + (bracketed ? 1 : 0));
  if (address.host.empty() || address.host.find_first_of("/@ []") != std::string::npos) return refuse();
  if (rest.empty()) return address;
  if (!rest.starts_with(':')) return refuse();
  rest.remove_prefix(1);
  const auto [end, error] = std::from_chars(rest.data(), rest.data() + rest.size(), address.port);
  const bool whole = error == std::errc{} && end == rest.data() + rest.size();
  if (!whole || address.port < 1 || address.port > 65535) return refuse();
  return address;
}

} // namespace oxherd::daemon
