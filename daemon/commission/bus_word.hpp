#pragma once

#include <string>
#include <string_view>

#include <tl/expected.hpp>

#include "drivers/bus_address.hpp"

namespace oxherd::daemon::commission {

/// Reads a bus as a person types it: "tcp://192.0.2.10:502" (port 502 when left out) or the path of a serial device.
/// The line settings of a serial device are those of the specification. The error is a sentence.
[[nodiscard]] tl::expected<drivers::BusAddress, std::string> bus_named(std::string_view word);

/// "even", "odd" or "none".
[[nodiscard]] tl::expected<drivers::Parity, std::string> parity_named(std::string_view word);

} // namespace oxherd::daemon::commission
