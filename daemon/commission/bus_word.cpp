#include "daemon/commission/bus_word.hpp"

#include <fmt/core.h>

#include "config/host_port.hpp"

namespace oxherd::daemon::commission {

tl::expected<drivers::BusAddress, std::string> bus_named(std::string_view word) {
  constexpr std::string_view scheme = "tcp://";
  constexpr int modbus_port = 502; // registered with IANA
  if (word.starts_with('/')) {
    drivers::SerialLine line;
    line.device = word;
    return line;
  }
  if (!word.starts_with(scheme))
    return tl::unexpected(fmt::format("\"{}\" is no bus; write tcp://192.0.2.10:502, or the path of a serial device "
                                      "such as /dev/ttyUSB0",
                                      word));
  const auto address = config::host_and_port(word.substr(scheme.size()), modbus_port);
  if (!address) return tl::unexpected(address.error());
  drivers::TcpAddress tcp;
  tcp.host = address->host;
  tcp.port = address->port;
  return tcp;
}

tl::expected<drivers::Parity, std::string> parity_named(std::string_view word) {
  if (word == "even") return drivers::Parity::even;
  if (word == "odd") return drivers::Parity::odd;
  if (word == "none") return drivers::Parity::none;
  return tl::unexpected(fmt::format("\"{}\" is no parity; write even, odd or none", word));
}

} // namespace oxherd::daemon::commission
