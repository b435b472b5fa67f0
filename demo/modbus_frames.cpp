#include "demo/modbus_frames.hpp"

namespace oxherd::demo {

Bytes exception_reply(std::uint8_t function, Exception exception) {
  return {static_cast<std::uint8_t>(function | 0x80u), static_cast<std::uint8_t>(exception)};
}

std::uint16_t crc_of(std::span<const std::uint8_t> bytes) {
  std::uint32_t crc = 0xFFFF;
  for (const auto byte : bytes) {
    crc ^= byte;
    for (int bit = 0; bit < 8; ++bit) crc = (crc & 1u) != 0 ? (crc >> 1) ^ 0xA001u : crc >> 1;
  }
  return static_cast<std::uint16_t>(crc);
}

Bytes with_crc(Bytes frame) {
  const std::uint16_t crc = crc_of(frame);
  frame.push_back(static_cast<std::uint8_t>(crc & 0xFFu));
  frame.push_back(static_cast<std::uint8_t>(crc >> 8));
  return frame;
}

std::uint16_t word_at(std::span<const std::uint8_t> bytes, std::size_t at) {
  return static_cast<std::uint16_t>((bytes[at] << 8) | bytes[at + 1]);
}

void append_word(Bytes& to, std::uint16_t word) {
  to.push_back(static_cast<std::uint8_t>(word >> 8));
  to.push_back(static_cast<std::uint8_t>(word & 0xFFu));
}

std::optional<std::size_t> request_length(std::span<const std::uint8_t> begin) {
  if (begin.size() < 2) return std::nullopt;
  const bool carries_data = begin[1] == static_cast<std::uint8_t>(Function::write_coils) ||
                            begin[1] == static_cast<std::uint8_t>(Function::write_registers);
  if (!carries_data) return 8; // unit, function, two words, CRC
  if (begin.size() < 7) return std::nullopt;
  return std::size_t{9} + begin[6]; // ... byte count and that many bytes more
}

} // namespace oxherd::demo
