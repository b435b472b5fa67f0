#include "drivers/modbus_tcp_bus.hpp"

#include <algorithm>
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

std::vector<std::vector<std::uint16_t>> ModbusTcpBus::read_together(std::span<const Read> reads) {
  Together together;
  for (std::size_t i = 0; i < reads.size(); ++i)
    if (!why_impossible(reads[i].span))
      add(together, i, {reads[i].unit, read_request(reads[i].span), reads[i].timeout});
  std::vector<std::vector<std::uint16_t>> words;
  for (auto& answer : exchange(std::move(together), reads.size()))
    words.push_back(std::move(answer).value_or(std::vector<std::uint16_t>{}));
  return words;
}

std::vector<bool> ModbusTcpBus::write_together(std::span<const Write> writes) {
  Together together;
  for (std::size_t i = 0; i < writes.size(); ++i)
    if (!why_unwritable(writes[i].address, writes[i].values.size()))
      add(together, i, {writes[i].unit, write_request(writes[i]), writes[i].timeout});
  std::vector<bool> confirmed;
  for (const auto& answer : exchange(std::move(together), writes.size())) confirmed.push_back(answer.has_value());
  return confirmed;
}

void ModbusTcpBus::add(Together& together, std::size_t place, const Exchange& wanted) {
  if (why_no_such_unit(wanted.unit)) return;
  together.timeout = std::max(together.timeout, wanted.timeout);
  together.requests.push_back({place, {++transaction_, static_cast<std::uint8_t>(wanted.unit)}, wanted.request});
}

AnswersTogether ModbusTcpBus::exchange(Together together, std::size_t places) {
  AnswersTogether answers(places);
  if (together.requests.empty() || stop().is_set() || !be_connected()) return answers;
  std::vector<std::uint8_t> frames;
  for (const auto& one : together.requests) {
    const auto frame = tcp_frame(one.id, one.request);
    frames.insert(frames.end(), frame.begin(), frame.end());
  }
  const auto deadline = std::chrono::steady_clock::now() + together.timeout;
  if (!send(frames, deadline) || !receive_together(std::move(together.requests), answers, deadline)) socket_.reset();
  return answers;
}

bool ModbusTcpBus::receive_together(std::vector<OnItsWay> waiting, AnswersTogether& answers, Deadline deadline) {
  std::array<std::uint8_t, transactions_max * tcp_frame_bytes_max> bytes{};
  std::size_t there = 0;
  while (!waiting.empty()) {
    const auto filled = fill(bytes, {there, there + 1}, deadline);
    if (!filled) return false;
    const auto taken = take_replies(std::span{bytes}.first(*filled), waiting, answers);
    if (!taken) return false;
    there = *filled - *taken;
    std::copy_n(bytes.begin() + static_cast<std::ptrdiff_t>(*taken), there, bytes.begin());
  }
  return there == 0; // nobody asked for what is behind them
}

tl::expected<void, BusError> ModbusTcpBus::be_connected() {
  if (socket_.is_open()) {
    // Between requests nothing may arrive. If something did, the server has closed an idle connection, or sent what
    // nobody asked for: either way a new connection is in order, and no error.
    char unasked = 0;
    if (::recv(socket_.get(), &unasked, 1, MSG_PEEK | MSG_DONTWAIT) < 0 && is_only_a_pause(errno)) return {};
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
  std::array<std::uint8_t, tcp_frame_bytes_max> frame{};
  const auto header = fill(frame, {0, tcp_header_bytes}, deadline);
  if (!header) return tl::unexpected(with_words(header.error(), exchange, false));
  const auto length = check_tcp_header(id, std::span{frame}.first<tcp_header_bytes>());
  if (!length) return tl::unexpected(length.error());
  const auto whole = fill(frame, {*header, tcp_header_bytes + *length}, deadline);
  if (!whole) return tl::unexpected(with_words(whole.error(), exchange, true));
  auto reply = check_reply(exchange.request, std::span{frame}.subspan(tcp_header_bytes, *length));
  if (*whole > tcp_header_bytes + *length) socket_.reset(); // nobody asked for what is behind it
  return reply;
}

/// What ran out of time; other errors have their words.
BusError ModbusTcpBus::with_words(BusError error, const Exchange& exchange, bool begun) {
  if (error.fault != BusFault::timeout) return error;
  error.detail = begun ? fmt::format("the reply about {} was not complete within {} ms: look at the network",
                                     in_words(exchange.request), exchange.timeout.count())
                       : fmt::format("no reply within {} ms about {}: is the unit id right, and the device alive?",
                                     exchange.timeout.count(), in_words(exchange.request));
  return error;
}

tl::expected<std::size_t, BusError> ModbusTcpBus::fill(std::span<std::uint8_t> frame, Wanted bytes, Deadline deadline) {
  std::size_t there = bytes.there;
  while (there < bytes.at_least) {
    switch (wait_until(socket_.get(), POLLIN, stop(), deadline)) {
    case Waited::stopped: return tl::unexpected(stopped());
    case Waited::timed_out: return tl::unexpected(BusError{BusFault::timeout});
    case Waited::ready: break;
    }
    const auto got = ::recv(socket_.get(), frame.data() + there, frame.size() - there, 0);
    if (got > 0) {
      there += static_cast<std::size_t>(got);
    } else if (got == 0 || !is_only_a_pause(errno)) {
      return connection_lost(got == 0 ? 0 : errno);
    }
  }
  return there;
}

} // namespace oxherd::drivers
