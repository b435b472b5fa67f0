#pragma once

#include <optional>
#include <span>

#include "demo/modbus_frames.hpp"
#include "demo/output_module.hpp"
#include "demo/site.hpp"

namespace oxherd::demo {

/// Every Modbus unit of the site: turns a request into the reply that the unit would give.
class Devices {
public:
  /// @param site  read at each request; used until this is gone
  explicit Devices(const Site& site) : site_{&site} {}

  /// The reply to one protocol data unit (function code and what follows; no unit, no CRC).
  /// @return empty: no reply. An unknown unit is silent on the serial line; over TCP a gateway says so (exception 0B).
  [[nodiscard]] std::optional<Bytes> answer(Line line, int unit, std::span<const std::uint8_t> request,
                                            OutputModule::Monotonic now);
  [[nodiscard]] OutputModule& outputs() { return outputs_; }

private:
  [[nodiscard]] Bytes read_words(const DeviceFacts& device, std::span<const std::uint8_t> request) const;
  [[nodiscard]] Bytes read_contact(const DeviceFacts& device, std::span<const std::uint8_t> request) const;
  [[nodiscard]] Bytes read_coils(std::span<const std::uint8_t> request) const;
  /// Confirms the write and takes none of it: the contacts are stuck.
  [[nodiscard]] Bytes write_in_vain(std::span<const std::uint8_t> request, OutputModule::Monotonic now);
  [[nodiscard]] Bytes write(std::span<const std::uint8_t> request, OutputModule::Monotonic now);
  [[nodiscard]] Bytes write_several(std::span<const std::uint8_t> request, OutputModule::Monotonic now);
  [[nodiscard]] Bytes serve(const DeviceFacts& device, std::span<const std::uint8_t> request,
                            OutputModule::Monotonic now);

  const Site* site_;
  OutputModule outputs_;
};

} // namespace oxherd::demo
