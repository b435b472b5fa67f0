#include "drivers/modbus_rtu_bus.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <system_error>

#include <fmt/core.h>
#include <poll.h>
#include <sched.h>
#include <sys/ioctl.h>

namespace oxherd::drivers {

namespace {

using std::chrono::milliseconds;
using std::chrono::steady_clock;

/// Later than this no device answers any more. Common practice: response timeouts of slow gateways end at some seconds.
constexpr std::chrono::seconds latest_reply{30};

tl::unexpected<BusError> hung_up() {
  return tl::unexpected(
      BusError{BusFault::not_connected, 0, "the serial device is gone: was the adapter unplugged, or did it reset?"});
}

} // namespace

ModbusRtuBus::ModbusRtuBus(SerialLine line)
    : ModbusBus{"modbus-rtu " + line.device}, line_{std::move(line)},
      silence_{why_impossible(line_) ? milliseconds{0} : silence_before_request(line_.baud)} {}

std::optional<std::string> ModbusRtuBus::why_no_such_unit(int unit) const {
  if (auto why = why_impossible(line_)) return why;
  if (unit >= 1 && unit <= 247) return std::nullopt; // Modbus over Serial Line V1.02, 2.2
  if (unit == 0) return "unit 0 is the broadcast, which nobody answers and nothing confirms: name each unit";
  return "there is no such unit: 1 to 247 are possible on a serial line";
}

ModbusReply ModbusRtuBus::exchange(const Exchange& wanted) {
  if (auto open = be_open(wanted.timeout); !open) return tl::unexpected(std::move(open.error()));
  const bool owes_replies = late_.possible(wanted.unit, steady_clock::now());
  const bool could_be_echo = is_write(wanted.request) && !echo_excluded_;
  if (!owes_replies && !could_be_echo) return ask(wanted);

  const auto question = late_.telling_question(wanted.unit, wanted.request);
  if (!question)
    return tl::unexpected(BusError{BusFault::timeout, 0,
                                   fmt::format("too many replies are missing to tell a new one from a late one: the "
                                               "unit is left alone for up to {} s",
                                               latest_reply.count())});
  auto answer = ask({wanted.unit, *question, wanted.timeout});
  const bool in_step = answer || answer.error().line_in_step();
  if (in_step) late_.forget(wanted.unit);
  // An exception has no length of its own and may itself be late: then the reply proper would still follow.
  if (in_step && !answer) listen_first(wanted.timeout);
  if (*question == wanted.request) return answer;
  if (in_step) return ask(wanted);
  if (is_write(wanted.request) && port_) {
    // A relay that is to fall must not wait for a proof. It is sent all the same, but never counted as done.
    static_cast<void>(ask(wanted));
    answer.error().detail += "; the write was sent, but is not confirmed";
  }
  return answer;
}

tl::expected<void, BusError> ModbusRtuBus::be_open(milliseconds timeout) {
  if (port_) return {};
  auto opened = SerialPort::open(line_);
  if (!opened) return tl::unexpected(std::move(opened.error()));
  port_ = std::make_unique<SerialPort>(*std::move(opened));
  ask_for_exact_sleeps();
  listen_first(timeout); // a reply to somebody's last request may still be on its way
  return {};
}

ModbusReply ModbusRtuBus::ask(const Exchange& exchange) {
  if (auto silent = wait_for_silence(exchange.timeout); !silent) {
    if (silent.error().fault == BusFault::not_connected && !stop().is_set()) hang_up();
    return tl::unexpected(std::move(silent.error()));
  }
  auto sent = send(exchange);
  auto reply = sent ? receive(exchange) : ModbusReply{tl::unexpected(std::move(sent.error()))};
  const bool in_step = reply || reply.error().line_in_step();
  if (in_step) {
    free_from_ = heard_ + silence_;
    echo_excluded_ = echo_excluded_ || !reply || !is_write(exchange.request);
    return reply;
  }
  late_.expect(exchange.unit, exchange.request, steady_clock::now() + latest_reply);
  listen_first(exchange.timeout);
  if (reply.error().fault == BusFault::not_connected && !stop().is_set()) hang_up();
  return reply;
}

/// Waits until the line has been silent long enough for a request; what arrives meanwhile belongs to nobody.
tl::expected<void, BusError> ModbusRtuBus::wait_for_silence(milliseconds timeout) {
  const auto give_up = std::max(free_from_, steady_clock::now()) + 2 * timeout;
  for (;;) {
    switch (wait_exactly_until(port_->fd(), POLLIN, stop(), free_from_, delay_)) {
    case Waited::timed_out: return {};
    case Waited::stopped: return tl::unexpected(stopped());
    case Waited::ready: break;
    }
    if (!port_->discard_input()) return hung_up();
    if (steady_clock::now() > give_up)
      return tl::unexpected(BusError{BusFault::garbled, 0,
                                     "the line is never silent: look for noise, a missing termination or a second "
                                     "master"});
    listen_first(timeout);
  }
}

tl::expected<void, BusError> ModbusRtuBus::send(const Exchange& exchange) {
  const auto pdu = pdu_of(exchange.request);
  std::vector<std::uint8_t> raw{static_cast<std::uint8_t>(exchange.unit)};
  raw.insert(raw.end(), pdu.begin(), pdu.end());
  ::modbus_set_slave(port_->context(), exchange.unit);
  if (::modbus_send_raw_request(port_->context(), raw.data(), static_cast<int>(raw.size())) < 0) return hung_up();
  return {};
}

ModbusReply ModbusRtuBus::receive(const Exchange& exchange) {
  const auto request_characters = static_cast<int>(pdu_of(exchange.request).size()) + 3; // unit and checksum
  const auto deadline = steady_clock::now() + exchange.timeout + time_on_the_wire(line_.baud, request_characters);
  // The first byte is awaited here, where interrupt() is heard; libmodbus then reads the rest against the deadline.
  switch (wait_until(port_->fd(), POLLIN, stop(), deadline)) {
  case Waited::stopped: return tl::unexpected(stopped());
  case Waited::timed_out: return tl::unexpected(receive_error(ETIMEDOUT, exchange));
  case Waited::ready: break;
  }
  const auto whole_at = await_whole_reply(exchange, deadline);
  if (stop().is_set()) return tl::unexpected(stopped());
  const auto left = std::max(std::chrono::microseconds{1000},
                             std::chrono::duration_cast<std::chrono::microseconds>(deadline - steady_clock::now()));
  ::modbus_set_response_timeout(port_->context(), static_cast<std::uint32_t>(left.count() / 1'000'000),
                                static_cast<std::uint32_t>(left.count() % 1'000'000));
  std::array<std::uint8_t, MODBUS_MAX_ADU_LENGTH> adu{};
  const int length = ::modbus_receive_confirmation(port_->context(), adu.data());
  const int error = errno;
  heard_ = whole_at.value_or(steady_clock::now());

  const auto sent = echo_of(exchange.request);
  const bool begins_like_request = adu[0] == exchange.unit && std::equal(sent.begin(), sent.end() - 1, adu.begin() + 1);
  const bool whole_request = length == 8 && begins_like_request && adu[5] == sent[4];
  if (!is_write(exchange.request) && ((length < 0 && begins_like_request) || whole_request))
    return tl::unexpected(BusError{BusFault::garbled, 0,
                                   "the adapter repeats what is sent to it: switch its local echo off, or its receiver "
                                   "while it sends"});
  if (length < 0) return tl::unexpected(receive_error(error, exchange));
  if (length < 4 || adu[0] != exchange.unit) // libmodbus answers 0 for a foreign unit, and lets unit 0 pass
    return tl::unexpected(BusError{BusFault::garbled, 0,
                                   fmt::format("unit {} answered instead: look for two masters, or noise", adu[0])});
  return check_reply(exchange.request, std::span{adu}.subspan(1, static_cast<std::size_t>(length) - 3));
}

/// Sleeps until the reply must be there, which its length and the baud rate tell, instead of waking up for each of its
/// bytes; watches for the last of them, because a device may pause. What is not there soon is awaited by libmodbus.
/// @return  when the last byte was there, never too early; empty: it is not there yet, or stop was asked for
std::optional<Deadline> ModbusRtuBus::await_whole_reply(const Exchange& exchange, Deadline deadline) {
  const auto data = is_write(exchange.request) ? std::size_t{4} : reply_bytes(exchange.request) + 1;
  const auto characters = static_cast<int>(data) + 4; // unit, function and checksum
  const auto characters_there = [&] {
    int there = 0;
    return ::ioctl(port_->fd(), FIONREAD, &there) == 0 ? there : 0;
  };
  const int missing = characters - characters_there();
  if (missing <= 0) return steady_clock::now();
  const auto complete = steady_clock::now() + time_on_the_wire(line_.baud, missing);
  if (complete > deadline || wait_nearly_until(-1, 0, stop(), complete, delay_) == Waited::stopped) return std::nullopt;
  while (characters_there() < characters) {
    if (steady_clock::now() > complete) return std::nullopt;
    ::sched_yield(); // to the thread of the kernel that brings the bytes
  }
  return steady_clock::now();
}

BusError ModbusRtuBus::receive_error(int error, const Exchange& exchange) const {
  if (error == ETIMEDOUT)
    return {BusFault::timeout, 0,
            fmt::format("no whole reply within {} ms about {}: look at power, wiring, unit id, baud rate and parity",
                        exchange.timeout.count(), in_words(exchange.request))};
  if (error == EMBBADCRC)
    return {BusFault::garbled, 0,
            fmt::format("wrong checksum in the reply about {}: look at baud rate, parity, termination and noise",
                        in_words(exchange.request))};
  if (error > MODBUS_ENOBASE)
    return {BusFault::garbled, 0,
            fmt::format("not a reply about {}: look at noise and a second master", in_words(exchange.request))};
  return hung_up().value();
}

void ModbusRtuBus::listen_first(milliseconds timeout) {
  free_from_ = steady_clock::now() + std::max<std::chrono::nanoseconds>(timeout, silence_);
}

void ModbusRtuBus::hang_up() {
  port_.reset();
  echo_excluded_ = false; // it may be another adapter when it comes back
}

} // namespace oxherd::drivers
