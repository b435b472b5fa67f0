#include "demo/devices.hpp"

#include <algorithm>

namespace oxherd::demo {
namespace {

constexpr std::size_t words_max = 125;  // Modbus Application Protocol V1.1b3, 6.3
constexpr std::size_t coils_max = 2000; // the same, 6.1

Bytes refuse(std::span<const std::uint8_t> request, Exception why) { return exception_reply(request[0], why); }

/// The reply to a write repeats the first five bytes: function, address, value or count.
Bytes echo(std::span<const std::uint8_t> request) { return {request.begin(), request.begin() + 5}; }

} // namespace

std::optional<Bytes> Devices::answer(Line line, int unit, std::span<const std::uint8_t> request,
                                     OutputModule::Monotonic now) {
  if (request.empty()) return std::nullopt;
  const DeviceFacts* device = find_device(line, unit);
  if (device == nullptr) {
    if (line == Line::stores) return std::nullopt;
    return refuse(request, Exception::gateway_no_response);
  }
  const Fault fault = site_->fault_of(device->name);
  if (fault == Fault::silent) return std::nullopt;
  if (fault == Fault::refusing) return refuse(request, Exception::device_failure);
  return serve(*device, request, now);
}

Bytes Devices::serve(const DeviceFacts& device, std::span<const std::uint8_t> request, OutputModule::Monotonic now) {
  const bool is_output = device.kind == DeviceKind::outputs;
  const bool is_stuck = site_->fault_of(device.name) == Fault::stuck;
  if (request.size() < 5) return refuse(request, Exception::illegal_value);
  switch (static_cast<Function>(request[0])) {
  case Function::read_input:
    return is_output || device.kind == DeviceKind::contact ? refuse(request, Exception::illegal_function)
                                                           : read_words(device, request);
  case Function::read_holding:
    return is_output ? read_words(device, request) : refuse(request, Exception::illegal_function);
  case Function::read_discrete:
    return device.kind == DeviceKind::contact ? read_contact(device, request)
                                              : refuse(request, Exception::illegal_function);
  case Function::read_coils: return is_output ? read_coils(request) : refuse(request, Exception::illegal_function);
  case Function::write_coil:
  case Function::write_register:
    if (is_output && is_stuck) return write_in_vain(request, now);
    return is_output ? write(request, now) : refuse(request, Exception::illegal_function);
  case Function::write_coils:
  case Function::write_registers:
    if (is_output && is_stuck) return write_in_vain(request, now);
    return is_output ? write_several(request, now) : refuse(request, Exception::illegal_function);
  }
  return refuse(request, Exception::illegal_function); // a code that no enumerator names
}

Bytes Devices::read_words(const DeviceFacts& device, std::span<const std::uint8_t> request) const {
  const std::size_t first = word_at(request, 1);
  const std::size_t count = word_at(request, 3);
  if (count < 1 || count > words_max) return refuse(request, Exception::illegal_value);
  const auto& held = outputs_.registers();
  const std::vector<std::uint16_t> words = device.kind == DeviceKind::outputs
                                               ? std::vector<std::uint16_t>{held.begin(), held.end()}
                                               : site_->input_registers(device.name);
  if (first + count > words.size()) return refuse(request, Exception::illegal_address);
  Bytes reply{request[0], static_cast<std::uint8_t>(2 * count)};
  for (std::size_t i = first; i < first + count; ++i) append_word(reply, words[i]);
  return reply;
}

Bytes Devices::read_coils(std::span<const std::uint8_t> request) const {
  const std::size_t first = word_at(request, 1);
  const std::size_t count = word_at(request, 3);
  if (count < 1 || count > coils_max) return refuse(request, Exception::illegal_value);
  if (first + count > OutputModule::coil_count) return refuse(request, Exception::illegal_address);
  std::uint8_t bits = 0; // eight coils: one byte holds them, the first asked for in its lowest bit
  for (std::size_t i = 0; i < count; ++i)
    if (outputs_.coils()[first + i]) bits = static_cast<std::uint8_t>(bits | (1u << i));
  return {request[0], 1, bits};
}

Bytes Devices::read_contact(const DeviceFacts& device, std::span<const std::uint8_t> request) const {
  const std::size_t count = word_at(request, 3);
  if (count < 1 || count > coils_max) return refuse(request, Exception::illegal_value);
  if (word_at(request, 1) + count > 1) return refuse(request, Exception::illegal_address);
  return {request[0], 1, static_cast<std::uint8_t>(site_->door_closed(device.name) ? 1 : 0)};
}

Bytes Devices::write_in_vain(std::span<const std::uint8_t> request, OutputModule::Monotonic now) {
  outputs_.note_written(now);
  return echo(request);
}

Bytes Devices::write(std::span<const std::uint8_t> request, OutputModule::Monotonic now) {
  const std::size_t address = word_at(request, 1);
  const std::uint16_t value = word_at(request, 3);
  const bool is_coil = request[0] == static_cast<std::uint8_t>(Function::write_coil);
  if (is_coil && value != 0x0000 && value != 0xFF00) return refuse(request, Exception::illegal_value);
  const std::size_t size = is_coil ? OutputModule::coil_count : OutputModule::register_count;
  if (address >= size) return refuse(request, Exception::illegal_address);
  if (is_coil)
    outputs_.write_coil(address, value == 0xFF00, now);
  else
    outputs_.write_register(address, value, now);
  return echo(request);
}

Bytes Devices::write_several(std::span<const std::uint8_t> request, OutputModule::Monotonic now) {
  const std::size_t first = word_at(request, 1);
  const std::size_t count = word_at(request, 3);
  const bool are_coils = request[0] == static_cast<std::uint8_t>(Function::write_coils);
  const std::size_t bytes = are_coils ? (count + 7) / 8 : 2 * count;
  if (count < 1 || request.size() != 6 + bytes || request[5] != bytes) return refuse(request, Exception::illegal_value);
  const std::size_t size = are_coils ? OutputModule::coil_count : OutputModule::register_count;
  if (first + count > size) return refuse(request, Exception::illegal_address);
  for (std::size_t i = 0; i < count; ++i) {
    if (are_coils)
      outputs_.write_coil(first + i, ((request[6 + i / 8] >> (i % 8)) & 1u) != 0, now);
    else
      outputs_.write_register(first + i, word_at(request, 6 + 2 * i), now);
  }
  return echo(request);
}

} // namespace oxherd::demo
