#include "drivers/modbus_bus.hpp"

#include <algorithm>

#include <fmt/core.h>

namespace oxherd::drivers {

tl::expected<std::vector<std::uint16_t>, BusError> ModbusBus::read(int unit, Span span,
                                                                   std::chrono::milliseconds timeout) {
  if (auto why = why_impossible(span))
    return tl::unexpected(
        BusError{BusFault::refused_locally, 0, fmt::format("{}, unit {}: {}", where_, unit, *std::move(why))});
  return talk({unit, read_request(span), timeout});
}

tl::expected<void, BusError> ModbusBus::write_coil(int unit, std::uint16_t address, bool on,
                                                   std::chrono::milliseconds timeout) {
  return write({unit, coil_request(address, on), timeout});
}

tl::expected<void, BusError> ModbusBus::write_register(int unit, std::uint16_t address, std::uint16_t value,
                                                       std::chrono::milliseconds timeout) {
  return write({unit, register_request(address, value), timeout});
}

tl::expected<void, BusError> ModbusBus::write_registers(int unit, std::uint16_t address,
                                                        const std::vector<std::uint16_t>& values,
                                                        std::chrono::milliseconds timeout) {
  if (auto why = why_unwritable(address, values.size()))
    return tl::unexpected(
        BusError{BusFault::refused_locally, 0, fmt::format("{}, unit {}: {}", where_, unit, *std::move(why))});
  return write({unit, registers_request(address, values), timeout});
}

tl::expected<void, BusError> ModbusBus::write(const Exchange& exchange) {
  auto reply = talk(exchange);
  if (!reply) return tl::unexpected(std::move(reply.error()));
  return {};
}

ModbusReply ModbusBus::talk(const Exchange& wanted) {
  const auto with_place = [&](BusError error) {
    error.detail = fmt::format("{}, unit {}: {}", where_, wanted.unit, error.detail);
    return tl::unexpected(std::move(error));
  };
  if (auto why = why_no_such_unit(wanted.unit))
    return with_place(BusError{BusFault::refused_locally, 0, *std::move(why)});
  if (stop_.is_set()) return with_place(stopped());
  Exchange bounded = wanted;
  bounded.timeout = std::clamp(wanted.timeout, std::chrono::milliseconds{1}, std::chrono::milliseconds{60000});
  auto reply = exchange(bounded);
  if (!reply) return with_place(std::move(reply.error()));
  return reply;
}

BusError ModbusBus::stopped() { return {BusFault::not_connected, 0, "polling was stopped"}; }

} // namespace oxherd::drivers
