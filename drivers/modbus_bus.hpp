#pragma once

#include <chrono>
#include <optional>
#include <string>

#include "drivers/modbus_request.hpp"
#include "drivers/register_bus.hpp"
#include "drivers/waiting.hpp"

namespace oxherd::drivers {

/// What Modbus over TCP and over a serial line have in common: local checks, requests, and errors that say where.
class ModbusBus : public RegisterBus {
public:
  [[nodiscard]] tl::expected<std::vector<std::uint16_t>, BusError> read(int unit, Span span,
                                                                        std::chrono::milliseconds timeout) final;
  [[nodiscard]] tl::expected<void, BusError> write_coil(int unit, std::uint16_t address, bool on,
                                                        std::chrono::milliseconds timeout) final;
  [[nodiscard]] tl::expected<void, BusError> write_register(int unit, std::uint16_t address, std::uint16_t value,
                                                            std::chrono::milliseconds timeout) final;
  [[nodiscard]] tl::expected<void, BusError> write_registers(int unit, std::uint16_t address,
                                                             const std::vector<std::uint16_t>& values,
                                                             std::chrono::milliseconds timeout) final;
  void interrupt() final { stop_.set(); }

protected:
  struct Exchange {
    int unit;
    ModbusRequest request;
    std::chrono::milliseconds timeout;
  };
  /// @param where  the address, as it begins every message
  explicit ModbusBus(std::string where) : where_{std::move(where)} {}
  /// Why nothing can be sent to this unit on this kind of line, if so.
  [[nodiscard]] virtual std::optional<std::string> why_no_such_unit(int unit) const = 0;
  /// Sends a request that is known to be possible and returns its own reply, or an error without the address.
  [[nodiscard]] virtual ModbusReply exchange(const Exchange& exchange) = 0;
  [[nodiscard]] const StopEvent& stop() const { return stop_; }
  [[nodiscard]] static BusError stopped();

private:
  [[nodiscard]] ModbusReply talk(const Exchange& exchange);
  [[nodiscard]] tl::expected<void, BusError> write(const Exchange& exchange);

  std::string where_;
  StopEvent stop_;
};

} // namespace oxherd::drivers
