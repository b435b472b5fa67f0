#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "drivers/modbus_request.hpp"
#include "drivers/tcp_frame.hpp"

namespace oxherd::drivers {

/// A request that is on its way with others.
struct OnItsWay {
  std::size_t place = 0; ///< which of them it is
  TcpExchangeId id;
  ModbusRequest request;
};

/// The words of those that were answered, each in its place: what was read, or none for a write that was confirmed.
using AnswersTogether = std::vector<std::optional<std::vector<std::uint16_t>>>;

/// Takes the whole replies at the beginning of `bytes`, in whatever order they come, from those that are waited for:
/// each goes to its place in `answers`; an exception is a reply and leaves its place empty. Any bytes are safe.
/// @return  how many bytes these were; nothing: something else was among them, and the connection is out of step
/// @checked tests/drivers/tcp_replies_test.cpp, tests/fuzz/modbus_reply_fuzz.cpp
[[nodiscard]] std::optional<std::size_t> take_replies(std::span<const std::uint8_t> bytes,
                                                      std::vector<OnItsWay>& waiting, AnswersTogether& answers);

} // namespace oxherd::drivers
