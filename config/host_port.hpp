#pragma once

#include <string>
#include <string_view>

#include <tl/expected.hpp>

namespace oxherd::config {

struct HostPort {
  std::string host; ///< without brackets
  int port = 0;
};

/// Reads "host", "host:port", "[2001:db8::1]:port"; the error is a sentence for a person.
[[nodiscard]] tl::expected<HostPort, std::string> host_and_port(std::string_view text, int default_port);

} // namespace oxherd::config
