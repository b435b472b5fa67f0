#include "drivers/modbus_tcp_bus.hpp"

#include <array>
#include <cerrno>
#include <system_error>

#include <fmt/core.h>
#include <poll.h>
#include <sys/socket.h>

#include "drivers/tcp_connect.hpp"

namespace oxherd::drivers {

namespace {

tl::unexpected<BusError> connection_lost(int error) {
  const bool closed = error == 0 || error == ECONNRESET || error == EPIPE;
  return tl::unexpected(
      BusError{BusFault::not_connected, 0,
               closed ? std::string{"the server closed the connection: does it serve another client, or restart?"}
                      : "the connection failed: " + std::generic_category().message(error)});
}

bool is_only_a_pause(int error) { return error == EAGAIN || error == EWOULDBLOCK || error == EINTR; }

} // namespace

ModbusTcpBus::ModbusTcpBus(TcpAddress address)
    : ModbusBus{"modbus-tcp " + in_words(address)}, address_{std::move(address)} {}

std::optional<std::string> ModbusTcpBus::why_no_such_unit(int unit) const {
  // Modbus Messaging on TCP/IP Implementation Guide V1.0b, 4.4.2: 0 and 255 are the server itself.
  if ((unit >= 0 && unit <= 247) || unit == 255) return std::nullopt;
  return "there is no such unit: 0 to 247 and 255 are possible over TCP";
}

ModbusReply ModbusTcpBus::exchange(const Exchange& exchange) {
  if (auto connected = be_connected(); !connected) return tl::unexpected(std::move(connected.error()));
  const auto deadline = std::chrono::steady_clock::now() + exchange.timeout;
  const TcpExchangeId id{++transaction_, static_cast<std::uint8_t>(exchange.unit)};
  auto reply = [&]() -> ModbusReply {
    if (auto sent = send(tcp_frame(id, exchange.request), deadline); !sent)
      return tl::unexpected(std::move(sent.error()));
    return receive(exchange, id, deadline);
  }();
  if (!reply && !reply.error().line_in_step()) socket_.reset();
  return reply;
}

tl::expected<void, BusError> ModbusTcpBus::be_connected() {
  if (socket_.is_open()) {
    // Between requests nothing may arrive. If something did, the server has closed an idle connection, or sent what
    // nobody asked for: either way a new connection is in order, and no error.
    if (wait_until(socket_.get(), POLLIN, stop(), Deadline{}) == Waited::timed_out) return {};
    socket_.reset();
  }
  if (stop().is_set()) return tl::unexpected(stopped());
  auto connected = connect_tcp(address_, stop());
  if (!connected) return tl::unexpected(std::move(connected.error()));
  socket_ = *std::move(connected);
  return {};
}

tl::expected<void, BusError> ModbusTcpBus::send(std::span<const std::uint8_t> bytes, Deadline deadline) {
  while (!bytes.empty()) {
    const auto sent = ::send(socket_.get(), bytes.data(), bytes.size(), MSG_NOSIGNAL);
    if (sent >= 0) {
      bytes = bytes.subspan(static_cast<std::size_t>(sent));
      continue;
    }
    if (!is_only_a_pause(errno)) return connection_lost(errno);
    switch (wait_until(socket_.get(), POLLOUT, stop(), deadline)) {
    case Waited::stopped: return tl::unexpected(stopped());
    case Waited::timed_out: return tl::unexpected(BusError{BusFault::timeout, 0, "the server takes no more requests"});
    case Waited::ready: break;
    }
  }
  return {};
}

ModbusReply ModbusTcpBus::receive(const Exchange& exchange, TcpExchangeId id, Deadline deadline) {
  const BusError no_reply{BusFault::timeout, 0,
                          fmt::format("no reply within {} ms about {}: is the unit id right, and the device alive?",
                                      exchange.timeout.count(), in_words(exchange.request))};
  std::array<std::uint8_t, tcp_header_bytes> header{};
  if (auto got = fill(header, deadline, no_reply); !got) return tl::unexpected(std::move(got.error()));
  const auto length = check_tcp_header(id, header);
  if (!length) return tl::unexpected(length.error());
  std::array<std::uint8_t, 253> buffer{};
  const auto pdu = std::span{buffer}.first(*length);
  const BusError cut_short{BusFault::timeout, 0,
                           fmt::format("the reply about {} was not complete within {} ms: look at the network",
                                       in_words(exchange.request), exchange.timeout.count())};
  if (auto got = fill(pdu, deadline, cut_short); !got) return tl::unexpected(std::move(got.error()));
  return check_reply(exchange.request, pdu);
}

tl::expected<void, BusError> ModbusTcpBus::fill(std::span<std::uint8_t> bytes, Deadline deadline, BusError on_timeout) {
  while (!bytes.empty()) {
    switch (wait_until(socket_.get(), POLLIN, stop(), deadline)) {
    case Waited::stopped: return tl::unexpected(stopped());
    case Waited::timed_out: return tl::unexpected(std::move(on_timeout));
    case Waited::ready: break;
    }
    const auto got = ::recv(socket_.get(), bytes.data(), bytes.size(), 0);
    if (got > 0) {
      bytes = bytes.subspan(static_cast<std::size_t>(got));
    } else if (got == 0 || !is_only_a_pause(errno)) {
      return connection_lost(got == 0 ? 0 : errno);
    }
  }
  return {};
}

} // namespace oxherd::drivers
