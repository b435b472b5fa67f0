#pragma once

#include <string>

#include <tl/expected.hpp>

#include "drivers/bus_address.hpp"
#include "drivers/register_bus.hpp"
#include "drivers/waiting.hpp"

namespace oxherd::drivers {

/// "192.0.2.7:502" or "[2001:db8::7]:502", for messages.
[[nodiscard]] std::string in_words(const TcpAddress& address);

/// Connects within address.connect_timeout, which covers all addresses that a name stands for. Looking a name up blocks
/// as long as the resolver does and cannot be interrupted: prefer a numeric address.
/// @return a non-blocking socket, or `not_connected` with the reason
[[nodiscard]] tl::expected<FileDescriptor, BusError> connect_tcp(const TcpAddress& address, const StopEvent& stop);

} // namespace oxherd::drivers
