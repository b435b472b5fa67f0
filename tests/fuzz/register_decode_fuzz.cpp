#include <array>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <vector>

#include "drivers/decode.hpp"

// Any registers under any point: what decode() promises about its result holds.

namespace {

using namespace oxherd::drivers;

/// Takes numbers off the front of the input; zeros when it is used up.
class Input {
public:
  Input(const std::uint8_t* data, std::size_t size) : data_{data}, left_{size} {}
  template <class T> T take() {
    T value{};
    const std::size_t size = left_ < sizeof value ? left_ : sizeof value;
    if (size > 0) std::memcpy(&value, data_, size);
    data_ += size;
    left_ -= size;
    return value;
  }

private:
  const std::uint8_t* data_;
  std::size_t left_;
};

void require(bool promise) {
  if (!promise) std::abort();
}

} // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  constexpr std::array encodings{Encoding::bit,    Encoding::int16,   Encoding::uint16, Encoding::int32,
                                 Encoding::uint32, Encoding::float32, Encoding::float64};
  constexpr std::array orders{ByteOrder::abcd, ByteOrder::cdab, ByteOrder::badc, ByteOrder::dcba};
  Input input{data, size};
  Point point;
  point.encoding = encodings[input.take<std::uint8_t>() % encodings.size()];
  point.order = orders[input.take<std::uint8_t>() % orders.size()];
  point.scale = input.take<double>();
  point.offset = input.take<double>();
  point.si_scale = input.take<double>();
  point.bad_values = {input.take<double>()};
  if ((input.take<std::uint8_t>() & 1U) != 0) point.lowest_si = input.take<double>();
  if ((input.take<std::uint8_t>() & 1U) != 0) point.highest_si = input.take<double>();
  std::vector<std::uint16_t> words(static_cast<std::size_t>(words_of(point.encoding)));
  for (auto& word : words) word = input.take<std::uint16_t>();

  const Value value = decode(point, words);
  require(value.fault != ValueFault::not_read);
  if (value.fault == ValueFault::none || value.fault == ValueFault::out_of_range) require(std::isfinite(value.si));
  if (value.fault == ValueFault::none && point.lowest_si) require(!(value.si < *point.lowest_si));
  if (value.fault == ValueFault::none && point.highest_si) require(!(value.si > *point.highest_si));
  if (std::isnan(value.raw)) require(value.fault == ValueFault::not_finite);
  return 0;
}
