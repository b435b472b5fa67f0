#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include <tl/expected.hpp>

#include "drivers/register_bus.hpp"

namespace oxherd::drivers {

/// One request. The functions in use (01 to 06 and 16) share one shape: function, address and one more word; 16 has the
/// values behind it.
/// @source Modbus Application Protocol V1.1b3, 6.1 to 6.6 and 6.12
struct ModbusRequest {
  std::uint8_t function = 3;
  std::uint16_t address = 0;
  std::uint16_t argument = 0;          ///< how many to read or to write, or the one value to write
  std::vector<std::uint16_t> values{}; ///< of function 16
  friend bool operator==(const ModbusRequest&, const ModbusRequest&) = default;
};

/// Registers, or bits one per element; empty for an accepted write.
using ModbusReply = tl::expected<std::vector<std::uint16_t>, BusError>;

[[nodiscard]] ModbusRequest read_request(const Span& span);
[[nodiscard]] ModbusRequest coil_request(std::uint16_t address, bool on);
[[nodiscard]] ModbusRequest register_request(std::uint16_t address, std::uint16_t value);

/// Function 16, 1 to 123 values.
[[nodiscard]] ModbusRequest registers_request(std::uint16_t address, std::vector<std::uint16_t> values);

/// Functions 05, 06 and 16. A coil has one value.
[[nodiscard]] ModbusRequest write_request(const Write& write);

[[nodiscard]] bool is_write(const ModbusRequest& request);
[[nodiscard]] std::vector<std::uint8_t> pdu_of(const ModbusRequest& request);
/// The part of it that a device repeats to confirm a write.
[[nodiscard]] std::array<std::uint8_t, 5> echo_of(const ModbusRequest& request);

/// Bytes of data in the reply of a read, which is also what the reply says about itself.
[[nodiscard]] std::size_t reply_bytes(const ModbusRequest& read);

/// "holding registers 107 to 109", for messages.
[[nodiscard]] std::string in_words(const ModbusRequest& request);

/// Why a span can never be read, if so: count of 0 or above the protocol's limit, or beyond address 65535.
[[nodiscard]] std::optional<std::string> why_impossible(const Span& span);
/// Why these registers can never be written in one request, if so.
[[nodiscard]] std::optional<std::string> why_unwritable(std::uint16_t address, std::size_t count);

/// Compares a reply with its request: function, length, and for writes the echo; then takes the values out.
/// @param pdu  the reply from the function code on, without unit and checksum; any bytes at all are safe
/// @return     the values, or `exception` or `garbled`
/// @checked    tests/drivers/modbus_request_test.cpp, tests/fuzz/modbus_reply_fuzz.cpp
[[nodiscard]] ModbusReply check_reply(const ModbusRequest& request, std::span<const std::uint8_t> pdu);

} // namespace oxherd::drivers
