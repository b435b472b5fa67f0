#include "drivers/modbus_request.hpp"

#include <algorithm>
#include <cstdlib>

#include <fmt/core.h>

namespace oxherd::drivers {

namespace {

bool reads_bits(std::uint8_t function) { return function == 1 || function == 2; }

std::uint8_t high(std::uint16_t word) { return static_cast<std::uint8_t>(static_cast<unsigned>(word) >> 8U); }
std::uint8_t low(std::uint16_t word) { return static_cast<std::uint8_t>(word & 0xFFU); }

tl::unexpected<BusError> not_our_reply(std::string what) {
  return tl::unexpected(BusError{
      BusFault::garbled, 0, std::move(what) + "; look for a second master, two devices with one unit id, or noise"});
}

std::vector<std::uint16_t> unpack(const ModbusRequest& request, std::span<const std::uint8_t> data) {
  std::vector<std::uint16_t> values(request.argument);
  for (std::size_t i = 0; i < values.size(); ++i) {
    const unsigned value = reads_bits(request.function)
                               ? static_cast<unsigned>(data[i / 8]) >> (i % 8) & 1U // first bit: lowest of first byte
                               : static_cast<unsigned>(data[2 * i]) << 8U | data[2 * i + 1];
    values[i] = static_cast<std::uint16_t>(value);
  }
  return values;
}

} // namespace

ModbusRequest read_request(const Span& span) {
  switch (span.table) {
  case Table::coil: return {1, span.address, span.count, {}};
  case Table::discrete_input: return {2, span.address, span.count, {}};
  case Table::holding_register: return {3, span.address, span.count, {}};
  case Table::input_register: return {4, span.address, span.count, {}};
  }
  std::abort(); // not one of the tables: memory is corrupt, stop loudly
}

ModbusRequest coil_request(std::uint16_t address, bool on) {
  return {5, address, on ? std::uint16_t{0xFF00} : std::uint16_t{0}, {}};
}

ModbusRequest register_request(std::uint16_t address, std::uint16_t value) { return {6, address, value, {}}; }

ModbusRequest registers_request(std::uint16_t address, std::vector<std::uint16_t> values) {
  const auto count = static_cast<std::uint16_t>(values.size());
  return {16, address, count, std::move(values)};
}

ModbusRequest write_request(const Write& write) {
  if (write.is_coil) return coil_request(write.address, write.values.at(0) != 0);
  if (write.values.size() == 1) return register_request(write.address, write.values[0]);
  return registers_request(write.address, write.values);
}

bool is_write(const ModbusRequest& request) { return request.function >= 5; }

std::array<std::uint8_t, 5> echo_of(const ModbusRequest& request) {
  return {request.function, high(request.address), low(request.address), high(request.argument), low(request.argument)};
}

std::vector<std::uint8_t> pdu_of(const ModbusRequest& request) {
  const auto head = echo_of(request);
  std::vector<std::uint8_t> pdu{head.begin(), head.end()};
  if (request.values.empty()) return pdu;
  pdu.push_back(static_cast<std::uint8_t>(2 * request.values.size()));
  for (const auto value : request.values) {
    pdu.push_back(high(value));
    pdu.push_back(low(value));
  }
  return pdu;
}

std::size_t reply_bytes(const ModbusRequest& read) {
  return reads_bits(read.function) ? (std::size_t{read.argument} + 7) / 8 : std::size_t{read.argument} * 2;
}

std::string in_words(const ModbusRequest& request) {
  static constexpr std::array<const char*, 7> names{
      "", "coil", "discrete input", "holding register", "input register", "writing coil", "writing holding register"};
  const char* name = names[std::min<std::size_t>(request.function, names.size() - 1)];
  const bool one = request.argument <= 1 || request.function == 5 || request.function == 6;
  if (one) return fmt::format("{} {}", name, request.address);
  return fmt::format("{}s {} to {}", name, request.address, request.address + request.argument - 1);
}

std::optional<std::string> why_impossible(const Span& span) {
  const bool bits = span.table == Table::coil || span.table == Table::discrete_input;
  const int count_max = bits ? 2000 : 125; // Modbus Application Protocol V1.1b3, 6.1 to 6.4
  if (span.count == 0 || span.count > count_max)
    return fmt::format("a request for {} {} is impossible: 1 to {} can be read at once; shorten the register map's "
                       "longest request",
                       span.count, bits ? "bits" : "registers", count_max);
  if (span.address + span.count > 65536)
    return fmt::format("{} {} from address {} reach beyond the last address, 65535; correct the register map",
                       span.count, bits ? "bits" : "registers", span.address);
  return std::nullopt;
}

std::optional<std::string> why_unwritable(std::uint16_t address, std::size_t count) {
  constexpr std::size_t count_max = 123; // Modbus Application Protocol V1.1b3, 6.12
  if (count == 0 || count > count_max)
    return fmt::format("{} registers cannot be written at once: 1 to {} can", count, count_max);
  if (address + count > 65536)
    return fmt::format("{} registers from address {} reach beyond the last address, 65535", count, address);
  return std::nullopt;
}

ModbusReply check_reply(const ModbusRequest& request, std::span<const std::uint8_t> pdu) {
  if (pdu.size() < 2) return not_our_reply(fmt::format("a reply of {} bytes is too short", pdu.size()));
  if (pdu[0] == (request.function | 0x80U)) {
    if (pdu.size() != 2) return not_our_reply(fmt::format("an exception of {} bytes instead of 2", pdu.size()));
    return tl::unexpected(BusError{BusFault::exception, pdu[1],
                                   fmt::format("refused {}: {}", in_words(request), exception_in_words(pdu[1]))});
  }
  if (pdu[0] != request.function)
    return not_our_reply(fmt::format("a reply with function {:02X} instead of {:02X}", pdu[0], request.function));
  if (is_write(request)) {
    const auto sent = echo_of(request);
    if (!std::equal(pdu.begin(), pdu.end(), sent.begin(), sent.end()))
      return not_our_reply(fmt::format("the device repeated something else than was sent when {}", in_words(request)));
    return std::vector<std::uint16_t>{};
  }
  const std::size_t bytes = reply_bytes(request);
  if (pdu[1] != bytes || pdu.size() != bytes + 2)
    return not_our_reply(fmt::format("{} bytes of data (announced as {}) instead of {} for {}", pdu.size() - 2, pdu[1],
                                     bytes, in_words(request)));
  return unpack(request, pdu.subspan(2));
}

std::string exception_in_words(int code) {
  switch (code) {
  case 0x01: return "illegal function (01): does the device have this table of registers?";
  case 0x02: return "illegal data address (02): does the register map fit the device, counted from 0?";
  case 0x03: return "illegal data value (03): does the device allow this count or value?";
  case 0x04: return "server device failure (04): look at the device itself";
  case 0x05: return "acknowledge (05): the device needs more time";
  case 0x06: return "server device busy (06): the device is at other work";
  case 0x08: return "memory parity error (08): the device's memory is damaged";
  case 0x0A: return "gateway path unavailable (0A): is the gateway set up for this unit?";
  case 0x0B: return "gateway target device failed to respond (0B): is the device behind the gateway alive?";
  default: return fmt::format("an exception that the specification does not name ({:02X})", code);
  }
}

} // namespace oxherd::drivers
