#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

namespace oxherd::demo {

using Bytes = std::vector<std::uint8_t>;

/// Function codes that the simulator serves.
/// @source Modbus Application Protocol V1.1b3, section 6
enum class Function : std::uint8_t {
  read_coils = 0x01,
  read_discrete = 0x02,
  read_holding = 0x03,
  read_input = 0x04,
  write_coil = 0x05,
  write_register = 0x06,
  write_coils = 0x0F,
  write_registers = 0x10
};

/// Exception codes that the simulator gives.
/// @source Modbus Application Protocol V1.1b3, section 7
enum class Exception : std::uint8_t {
  illegal_function = 0x01,
  illegal_address = 0x02,
  illegal_value = 0x03,
  device_failure = 0x04,
  gateway_no_response = 0x0B
};

/// The exception reply to a request of that function code.
[[nodiscard]] Bytes exception_reply(std::uint8_t function, Exception exception);

/// CRC of a serial frame; its low byte goes first on the line.
/// @source Modbus over Serial Line V1.02, 6.2.2
/// @checked tests/demo/modbus_frames_test.cpp, check value 0x4B37 and the specification's own example
[[nodiscard]] std::uint16_t crc_of(std::span<const std::uint8_t> bytes);
[[nodiscard]] Bytes with_crc(Bytes frame);

/// 16-bit field, high byte first. The two bytes must be there.
[[nodiscard]] std::uint16_t word_at(std::span<const std::uint8_t> bytes, std::size_t at);
void append_word(Bytes& to, std::uint16_t word);

/// Length of the serial request frame that begins with these bytes, CRC included; empty while it cannot be told yet.
/// Unknown functions count as the shortest frame, so that their CRC decides.
[[nodiscard]] std::optional<std::size_t> request_length(std::span<const std::uint8_t> begin);

} // namespace oxherd::demo
