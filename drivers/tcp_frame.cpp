#include "drivers/tcp_frame.hpp"

#include <algorithm>
#include <array>

#include <fmt/core.h>

namespace oxherd::drivers {

namespace {
constexpr std::uint8_t upper_byte(std::uint16_t word) { return static_cast<std::uint8_t>(word / 256); }
constexpr std::uint8_t lower_byte(std::uint16_t word) { return static_cast<std::uint8_t>(word % 256); }
} // namespace

std::vector<std::uint8_t> tcp_frame(TcpExchangeId id, const ModbusRequest& request) {
  const auto pdu = pdu_of(request);
  const auto length = static_cast<std::uint16_t>(pdu.size() + 1); // the unit counts
  const std::array<std::uint8_t, tcp_header_bytes> header{
      upper_byte(id.transaction), lower_byte(id.transaction), 0, 0, upper_byte(length), lower_byte(length), id.unit};
  std::vector<std::uint8_t> frame(header.size() + pdu.size());
  std::copy(pdu.begin(), pdu.end(), std::copy(header.begin(), header.end(), frame.begin()));
  return frame;
}

tl::expected<std::size_t, BusError> check_tcp_header(TcpExchangeId id,
                                                     std::span<const std::uint8_t, tcp_header_bytes> header) {
  const auto garbled = [](std::string detail) {
    return tl::unexpected(BusError{BusFault::garbled, 0, std::move(detail)});
  };
  const int transaction = header[0] * 256 + header[1];
  const int protocol = header[2] * 256 + header[3];
  const int length = header[4] * 256 + header[5];
  if (protocol != 0)
    return garbled(fmt::format("the reply is not Modbus (protocol {}): is this the right port?", protocol));
  if (length < 3 || length > 254)
    return garbled(fmt::format("a reply that claims {} bytes is not Modbus: is this the right port?", length));
  if (transaction != id.transaction)
    return garbled(fmt::format("a reply to transaction {} came instead of {}: is the server or gateway overloaded, or "
                               "does it not keep transaction numbers?",
                               transaction, id.transaction));
  if (header[6] != id.unit)
    return garbled(fmt::format("unit {} answered instead: look at the gateway's unit ids", header[6]));
  return static_cast<std::size_t>(length - 1);
}

} // namespace oxherd::drivers
