#include "tests/simulation/simulated_module.hpp"

#include <fmt/core.h>

namespace oxherd::simulation {
namespace {

using demo::Bytes;
using demo::Function;

constexpr std::uint16_t coil_on = 0xFF00;

Bytes request_of(Function function, std::uint16_t address, std::uint16_t value_or_count) {
  Bytes request{static_cast<std::uint8_t>(function)};
  demo::append_word(request, address);
  demo::append_word(request, value_or_count);
  return request;
}

std::optional<drivers::BusError> error_in(const std::optional<Bytes>& reply) {
  if (!reply) return drivers::BusError{drivers::BusFault::timeout, 0, "no reply"};
  if ((reply->front() & 0x80) == 0) return std::nullopt;
  return drivers::BusError{drivers::BusFault::exception, reply->at(1), fmt::format("exception {}", reply->at(1))};
}

} // namespace

daemon::WriteResult carry(demo::Devices& devices, const daemon::OutputKeeper::Write& write,
                          demo::OutputModule::Monotonic now) {
  const auto& what = write.what;
  const auto line = write.bus == demo::name_of(demo::Line::plant) ? demo::Line::plant : demo::Line::stores;
  daemon::WriteResult result{.output = what.output, .value = what.value};
  const auto told = static_cast<std::uint16_t>(what.is_coil ? (what.value != 0 ? coil_on : 0) : what.value);
  const auto put = what.is_coil ? Function::write_coil : Function::write_register;
  result.error = error_in(devices.answer(line, what.unit, request_of(put, what.address, told), now));
  if (result.error) return result;
  const auto ask = what.is_coil ? Function::read_coils : Function::read_holding;
  const auto reply = devices.answer(line, what.unit, request_of(ask, what.address, 1), now);
  result.asking_error = error_in(reply);
  if (!result.asking_error) result.held = what.is_coil ? reply->at(2) & 1U : demo::word_at(*reply, 2);
  return result;
}

} // namespace oxherd::simulation
