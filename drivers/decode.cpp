#include "drivers/decode.hpp"

#include <algorithm>
#include <bit>
#include <cassert>
#include <cmath>
#include <cstdlib>
#include <limits>

namespace oxherd::drivers {

namespace {

std::uint16_t swap_bytes(std::uint16_t word) {
  return static_cast<std::uint16_t>(static_cast<unsigned>(word) << 8U | static_cast<unsigned>(word) >> 8U);
}

/// The value's bits with its most significant byte first, whatever the order on the wire.
std::uint64_t gather(ByteOrder order, std::span<const std::uint16_t> words) {
  const bool words_reversed = order == ByteOrder::cdab || order == ByteOrder::dcba;
  const bool bytes_swapped = order == ByteOrder::badc || order == ByteOrder::dcba;
  std::uint64_t bits = 0;
  for (std::size_t i = 0; i < words.size(); ++i) {
    const std::uint16_t word = words_reversed ? words[words.size() - 1 - i] : words[i];
    bits = bits << 16U | (bytes_swapped ? swap_bytes(word) : word);
  }
  return bits;
}

bool says_no_value(const Point& point, double raw) {
  return std::any_of(point.bad_values.begin(), point.bad_values.end(), [&](double bad) {
    // A float32 device sends -9999.9 as the nearest float: the typed number has to be rounded the same way.
    const bool as_float =
        point.encoding == Encoding::float32 && std::abs(bad) <= double{std::numeric_limits<float>::max()};
    return raw == (as_float ? double{static_cast<float>(bad)} : bad);
  });
}

} // namespace

double decode_number(Encoding encoding, ByteOrder order, std::span<const std::uint16_t> words) {
  assert(words.size() == static_cast<std::size_t>(words_of(encoding)));
  const std::uint64_t bits = gather(order, words);
  switch (encoding) {
  case Encoding::bit: return bits != 0 ? 1.0 : 0.0;
  case Encoding::int16: return static_cast<std::int16_t>(bits);
  case Encoding::uint16: return static_cast<std::uint16_t>(bits);
  case Encoding::int32: return static_cast<std::int32_t>(bits);
  case Encoding::uint32: return static_cast<std::uint32_t>(bits);
  case Encoding::float32: return double{std::bit_cast<float>(static_cast<std::uint32_t>(bits))};
  case Encoding::float64: return std::bit_cast<double>(bits);
  }
  std::abort(); // not one of the orders or encodings: memory is corrupt, stop loudly
}

Value decode(const Point& point, std::span<const std::uint16_t> words) {
  Value value{.raw = decode_number(point.encoding, point.order, words), .si = 0.0, .fault = ValueFault::none};
  if (says_no_value(point, value.raw)) {
    value.fault = ValueFault::bad_value;
    return value;
  }
  const double device = value.raw * point.scale + point.offset;
  const double si = device * point.si_scale + point.si_offset;
  if (!std::isfinite(si)) { // also a finite number that the scale carries beyond the doubles
    value.fault = ValueFault::not_finite;
    return value;
  }
  value.si = si;
  const bool below = point.lowest_si && si < *point.lowest_si;
  const bool above = point.highest_si && si > *point.highest_si;
  if (below || above) value.fault = ValueFault::out_of_range;
  return value;
}

} // namespace oxherd::drivers
