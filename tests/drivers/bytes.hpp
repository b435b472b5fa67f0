#pragma once

#include <cstdint>
#include <initializer_list>
#include <string>
#include <vector>

namespace oxherd::drivers_test {

using Bytes = std::vector<std::uint8_t>;

/// "00 01 ff" in either case.
inline Bytes hex(const std::string& text) {
  Bytes bytes;
  for (std::size_t i = 0; i + 1 < text.size(); i += 3)
    bytes.push_back(static_cast<std::uint8_t>(std::stoi(text.substr(i, 2), nullptr, 16)));
  return bytes;
}

/// CRC-16 bit by bit, written apart from any library: polynomial A001 reflected, preset FFFF.
/// @source Modbus over Serial Line V1.02, 6.2.2
inline std::uint16_t crc_of(const Bytes& bytes) {
  unsigned crc = 0xFFFF;
  for (const unsigned byte : bytes) {
    crc ^= byte;
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1U) != 0 ? (crc >> 1U) ^ 0xA001U : crc >> 1U;
  }
  return static_cast<std::uint16_t>(crc);
}

/// A frame as it goes over the serial line: the checksum follows, low byte first.
inline Bytes with_crc(Bytes bytes) {
  const unsigned crc = crc_of(bytes);
  bytes.push_back(static_cast<std::uint8_t>(crc & 0xFFU));
  bytes.push_back(static_cast<std::uint8_t>(crc >> 8U));
  return bytes;
}

/// The registers reply of a unit, all registers holding one value.
inline Bytes registers_pdu(std::uint8_t function, std::size_t count, std::uint16_t value) {
  Bytes pdu{function, static_cast<std::uint8_t>(2 * count)};
  for (std::size_t i = 0; i < count; ++i) {
    pdu.push_back(static_cast<std::uint8_t>(value / 256));
    pdu.push_back(static_cast<std::uint8_t>(value % 256));
  }
  return pdu;
}

} // namespace oxherd::drivers_test
