// Addresses as people write them: of a broker, and of a host with its port.
#include <cstddef>
#include <cstdint>
#include <string>

#include "config/host_port.hpp"
#include "daemon/mqtt/broker_address.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string text{reinterpret_cast<const char*>(data), size};
  const auto broker = oxherd::daemon::parse_broker(text);
  if (!broker && broker.error().empty()) __builtin_trap();
  const auto host = oxherd::config::host_and_port(text, 502);
  if (!host && host.error().empty()) __builtin_trap();
  if (host && (host->port < 1 || host->port > 65535 || host->host.empty())) __builtin_trap();
  return 0;
}
