#pragma once

#include <chrono>
#include <optional>
#include <string>

#include "daemon/mqtt/broker_address.hpp"

namespace oxherd::daemon {

struct TlsFiles {
  std::optional<std::string> ca_file; ///< default: the system's certificates
  std::optional<std::string> certificate_file, key_file;
};

/// Connects once by itself, without MQTT, and says in words why that fails: no such host, refused, silent, certificate
/// expired, of another authority, for another name. Empty when network and TLS are in order. The client library says
/// the same few words for all of these. Blocks for `patience` at most, apart from the resolver; SIGPIPE must be
/// ignored.
[[nodiscard]] std::string why_unreachable(const BrokerAddress& broker, const TlsFiles& files,
                                          std::chrono::milliseconds patience);

} // namespace oxherd::daemon
