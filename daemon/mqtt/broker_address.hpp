#pragma once

#include <string>

#include <tl/expected.hpp>

namespace oxherd::daemon {

struct BrokerAddress {
  std::string host; ///< an IPv6 address without its brackets
  int port = 1883;
  bool tls = false;
};

/// Reads mqtt://host:port and mqtts://host:port; the port may be left out (1883, 8883) and an IPv6 address stands in
/// brackets. The error is a sentence that says what to write instead.
[[nodiscard]] tl::expected<BrokerAddress, std::string> parse_broker(const std::string& text);

} // namespace oxherd::daemon
