#pragma once

#include <chrono>
#include <string>
#include <variant>

namespace oxherd::drivers {

/// A Modbus TCP server.
struct TcpAddress {
  std::string host = "127.0.0.1"; ///< numeric address, or a name (looked up at each connect)
  int port = 502;
  std::chrono::milliseconds connect_timeout{2000};
};

enum class Parity { none, even, odd };
struct SerialLine {
  std::string device; ///< e.g. /dev/ttyUSB0
  int baud = 19200;   ///< 1200 to 230400, one of the standard rates; others are refused, never silently changed
  Parity parity = Parity::even; ///< Modbus over Serial Line V1.02, 2.5.1: even parity is the default
  int stop_bits = 1;
  bool rs485 = false; ///< let the kernel drive the transmitter
};
using BusAddress = std::variant<TcpAddress, SerialLine>;

} // namespace oxherd::drivers
