#pragma once

#include <cstdint>
#include <span>

#include "drivers/register_map.hpp"

namespace oxherd::drivers {

/// What was wrong with a value that was read; `none` means usable.
enum class ValueFault {
  none,
  not_read,    ///< the request that covers it failed
  bad_value,   ///< the device's own "no value"
  not_finite,  ///< NaN or infinity
  out_of_range ///< outside the point's permitted span
};

struct Value {
  double raw = 0.0; ///< decoded number before scale; meaningless when not_read
  double si = 0.0;  ///< finite whenever fault is none or out_of_range
  ValueFault fault = ValueFault::not_read;
};

/// Decodes one point from its own words, in wire order. words.size() must be words_of(point.encoding).
[[nodiscard]] Value decode(const Point& point, std::span<const std::uint16_t> words);

/// The bare number in the registers, before scale and checks. Never throws; float NaN comes back as NaN.
[[nodiscard]] double decode_number(Encoding encoding, ByteOrder order, std::span<const std::uint16_t> words);

} // namespace oxherd::drivers
