#include "demo/devices.hpp"

#include <algorithm>
#include <stdexcept>

#include "demo/plant.hpp"

namespace oxherd::demo {
namespace {

constexpr std::size_t words_max = 125;  // Modbus Application Protocol V1.1b3, 6.3
constexpr std::size_t coils_max = 2000; // the same, 6.1

Bytes refuse(std::span<const std::uint8_t> request, Exception why) { return exception_reply(request[0], why); }

/// The reply to a write repeats the first five bytes: function, address, value or count.
Bytes echo(std::span<const std::uint8_t> request) { return {request.begin(), request.begin() + 5}; }

/// The part of some words that a request asks for, in a reply.
Bytes words_reply(std::span<const std::uint16_t> words, std::span<const std::uint8_t> request) {
  const std::size_t first = word_at(request, 1);
  const std::size_t count = word_at(request, 3);
  if (count < 1 || count > words_max) return refuse(request, Exception::illegal_value);
  if (first + count > words.size()) return refuse(request, Exception::illegal_address);
  Bytes reply{request[0], static_cast<std::uint8_t>(2 * count)};
  for (std::size_t i = first; i < first + count; ++i) append_word(reply, words[i]);
  return reply;
}

Bytes coils_reply(const OutputModule& module, std::span<const std::uint8_t> request) {
  const std::size_t first = word_at(request, 1);
  const std::size_t count = word_at(request, 3);
  if (count < 1 || count > coils_max) return refuse(request, Exception::illegal_value);
  if (first + count > OutputModule::coil_count) return refuse(request, Exception::illegal_address);
  std::uint8_t bits = 0; // eight coils: one byte holds them, the first asked for in its lowest bit
  for (std::size_t i = 0; i < count; ++i)
    if (module.coils()[first + i]) bits = static_cast<std::uint8_t>(bits | (1u << i));
  return {request[0], 1, bits};
}

/// Confirms a write and takes none of it: the contacts are stuck.
Bytes write_in_vain(OutputModule& module, std::span<const std::uint8_t> request, OutputModule::Monotonic now) {
  module.note_written(now);
  return echo(request);
}

} // namespace

Devices::Devices(Site& site) : site_{&site} {
  for (const auto& facts : device_facts())
    if (facts.kind == DeviceKind::outputs) modules_.push_back({facts.name, OutputModule{analogue_outputs(facts.name)}});
}

Devices::Module* Devices::find_module(std::string_view name) {
  const auto found = std::ranges::find(modules_, name, &Module::name);
  return found == modules_.end() ? nullptr : &*found;
}

OutputModule& Devices::outputs() {
  Module* found = find_module("outputs");
  if (found == nullptr) throw std::logic_error("the table of devices has no module \"outputs\"");
  return found->works;
}

std::vector<std::string_view> Devices::tick(OutputModule::Monotonic now) {
  std::vector<std::string_view> dropped;
  for (auto& module : modules_) {
    if (!module.works.tick(now)) continue;
    dropped.push_back(module.name);
    drive(module, {});
  }
  return dropped;
}

void Devices::drive(const Module& module, const Span& written) {
  for (const auto& channel : channels()) {
    if (channel.module != module.name) continue;
    const bool is_written = is_register(channel.actuator) != written.are_coils && channel.index >= written.first &&
                            channel.index < written.first + written.count;
    const Room* room = site_->room(channel.room);
    const bool is_taken_over = room != nullptr && room->plant();
    if (is_written || is_taken_over) site_->drive(channel.room, plant_state(channel.room, module.works));
  }
}

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
  if (request.size() < 5) return refuse(request, Exception::illegal_value);
  Module* module = find_module(device->name);
  return module != nullptr ? serve_module(*module, request, now) : serve_input(*device, request);
}

Bytes Devices::serve_input(const DeviceFacts& device, std::span<const std::uint8_t> request) const {
  const auto function = static_cast<Function>(request[0]);
  if (function == Function::read_discrete && is_contact(device.kind)) return read_contact(device, request);
  if (function == Function::read_input && !is_contact(device.kind))
    return words_reply(site_->input_registers(device.name), request);
  return refuse(request, Exception::illegal_function);
}

Bytes Devices::serve_module(Module& module, std::span<const std::uint8_t> request, OutputModule::Monotonic now) {
  const bool is_stuck = site_->fault_of(module.name) == Fault::stuck;
  switch (static_cast<Function>(request[0])) {
  case Function::read_holding: return words_reply(module.works.registers(), request);
  case Function::read_coils: return coils_reply(module.works, request);
  case Function::write_coil:
  case Function::write_register:
    return is_stuck ? write_in_vain(module.works, request, now) : write(module, request, now);
  case Function::write_coils:
  case Function::write_registers:
    return is_stuck ? write_in_vain(module.works, request, now) : write_several(module, request, now);
  case Function::read_input:
  case Function::read_discrete: break;
  }
  return refuse(request, Exception::illegal_function); // or a code that no enumerator names
}

Bytes Devices::read_contact(const DeviceFacts& device, std::span<const std::uint8_t> request) const {
  const std::size_t count = word_at(request, 3);
  if (count < 1 || count > coils_max) return refuse(request, Exception::illegal_value);
  if (word_at(request, 1) + count > 1) return refuse(request, Exception::illegal_address);
  return {request[0], 1, static_cast<std::uint8_t>(site_->contact_closed(device.name) ? 1 : 0)};
}

Bytes Devices::write(Module& module, std::span<const std::uint8_t> request, OutputModule::Monotonic now) {
  const std::size_t address = word_at(request, 1);
  const std::uint16_t value = word_at(request, 3);
  const bool is_coil = request[0] == static_cast<std::uint8_t>(Function::write_coil);
  if (is_coil && value != 0x0000 && value != 0xFF00) return refuse(request, Exception::illegal_value);
  const std::size_t size = is_coil ? OutputModule::coil_count : OutputModule::register_count;
  if (address >= size) return refuse(request, Exception::illegal_address);
  if (is_coil)
    module.works.write_coil(address, value == 0xFF00, now);
  else
    module.works.write_register(address, value, now);
  drive(module, {.are_coils = is_coil, .first = address, .count = 1});
  return echo(request);
}

Bytes Devices::write_several(Module& module, std::span<const std::uint8_t> request, OutputModule::Monotonic now) {
  const std::size_t first = word_at(request, 1);
  const std::size_t count = word_at(request, 3);
  const bool are_coils = request[0] == static_cast<std::uint8_t>(Function::write_coils);
  const std::size_t bytes = are_coils ? (count + 7) / 8 : 2 * count;
  if (count < 1 || request.size() != 6 + bytes || request[5] != bytes) return refuse(request, Exception::illegal_value);
  const std::size_t size = are_coils ? OutputModule::coil_count : OutputModule::register_count;
  if (first + count > size) return refuse(request, Exception::illegal_address);
  for (std::size_t i = 0; i < count; ++i) {
    if (are_coils)
      module.works.write_coil(first + i, ((request[6 + i / 8] >> (i % 8)) & 1u) != 0, now);
    else
      module.works.write_register(first + i, word_at(request, 6 + 2 * i), now);
  }
  drive(module, {.are_coils = are_coils, .first = first, .count = count});
  return echo(request);
}

} // namespace oxherd::demo
