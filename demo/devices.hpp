#pragma once

#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "demo/modbus_frames.hpp"
#include "demo/output_module.hpp"
#include "demo/site.hpp"

namespace oxherd::demo {

/// Every Modbus unit of the site: turns a request into the reply that the unit would give.
class Devices {
public:
  /// @param site  read at each request, and its rooms driven by writes to the plant modules; used until this is gone
  explicit Devices(Site& site);

  /// The reply to one protocol data unit (function code and what follows; no unit, no CRC).
  /// @return empty: no reply. An unknown unit is silent on the serial line; over TCP a gateway says so (exception 0B).
  [[nodiscard]] std::optional<Bytes> answer(Line line, int unit, std::span<const std::uint8_t> request,
                                            OutputModule::Monotonic now);
  /// Lets the watchdog of every module look at the clock.
  /// @return the names of those that have just dropped something
  std::vector<std::string_view> tick(OutputModule::Monotonic now);
  /// The module of the alarm relays.
  [[nodiscard]] OutputModule& outputs();

private:
  struct Module {
    std::string_view name;
    OutputModule works;
  };
  /// The coils or holding registers that a request names.
  struct Span {
    bool are_coils = false;
    std::size_t first = 0;
    std::size_t count = 0;
  };
  [[nodiscard]] Module* find_module(std::string_view name); ///< null when it is no output module
  [[nodiscard]] Bytes read_contact(const DeviceFacts& device, std::span<const std::uint8_t> request) const;
  [[nodiscard]] Bytes write(Module& module, std::span<const std::uint8_t> request, OutputModule::Monotonic now);
  [[nodiscard]] Bytes write_several(Module& module, std::span<const std::uint8_t> request, OutputModule::Monotonic now);
  [[nodiscard]] Bytes serve_module(Module& module, std::span<const std::uint8_t> request, OutputModule::Monotonic now);
  [[nodiscard]] Bytes serve_input(const DeviceFacts& device, std::span<const std::uint8_t> request) const;
  /// Has the rooms of a module do what it now says: those taken over, and those whose outputs were written.
  void drive(const Module& module, const Span& written);

  Site* site_;
  std::vector<Module> modules_;
};

} // namespace oxherd::demo
