#pragma once

#include <memory>
#include <span>
#include <string_view>

#include "drivers/register_bus.hpp"

namespace oxherd::drivers {

/// A kind of bus, in the order of the alternatives of BusAddress.
struct BusKind {
  std::string_view name; ///< as configuration writes it
  std::string_view help; ///< one line
  std::unique_ptr<RegisterBus> (*make)(const BusAddress& address);
};

[[nodiscard]] std::span<const BusKind> bus_kinds();

} // namespace oxherd::drivers
