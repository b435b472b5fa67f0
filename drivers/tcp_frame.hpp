#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include <tl/expected.hpp>

#include "drivers/modbus_request.hpp"

namespace oxherd::drivers {

/// What ties a reply to its request on a connection.
struct TcpExchangeId {
  std::uint16_t transaction = 0;
  std::uint8_t unit = 0;
};

inline constexpr std::size_t tcp_header_bytes = 7;
inline constexpr std::size_t tcp_frame_bytes_max = tcp_header_bytes + 253; ///< of a request or a reply

/// A request behind its header.
/// @source Modbus Messaging on TCP/IP Implementation Guide V1.0b, 3.1.3
[[nodiscard]] std::vector<std::uint8_t> tcp_frame(TcpExchangeId id, const ModbusRequest& request);

/// Compares a reply's header with its request: transaction, protocol, length and unit.
/// @return how many bytes of PDU follow, 2 to 253; or `garbled`
/// @checked tests/drivers/tcp_frame_test.cpp, tests/fuzz/modbus_reply_fuzz.cpp
[[nodiscard]] tl::expected<std::size_t, BusError>
check_tcp_header(TcpExchangeId id, std::span<const std::uint8_t, tcp_header_bytes> header);

} // namespace oxherd::drivers
