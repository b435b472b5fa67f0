#pragma once

#include <chrono>
#include <string>
#include <variant>

namespace oxherd::drivers {

/// Of one server, as its maker says. @source Modbus Messaging on TCP/IP Implementation Guide V1.0b,
/// NumberMaxOfServerTransaction: 1 to 16; from memory
inline constexpr int transactions_max = 16;

/// A Modbus TCP server.
struct TcpAddress {
  std::string host = "127.0.0.1"; ///< numeric address, or a name (looked up at each connect)
  int port = 502;
  std::chrono::milliseconds connect_timeout{2000};
  int requests_at_once = 1; ///< 1 to transactions_max: on their way at the same time
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
