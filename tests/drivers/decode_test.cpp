#include "drivers/decode.hpp"

#include <array>
#include <cmath>
#include <limits>
#include <vector>

#include <gtest/gtest.h>

namespace oxherd::decode_test {

using namespace drivers;
using Words = std::vector<std::uint16_t>;

constexpr std::array orders{ByteOrder::abcd, ByteOrder::cdab, ByteOrder::badc, ByteOrder::dcba};

// IEEE 754-2019, binary32: the bytes of each number, most significant first. The orders are those that register_map.hpp
// describes; Modbus itself defines none beyond one register.
TEST(DecodeNumber, ReadsFloatsInAllFourOrdersOfTheirBytes) {
  struct Row {
    double printed;
    std::array<Words, 4> wire; // abcd, cdab, badc, dcba
  };
  const std::vector<Row> rows{
      {20.945999145507812, {{{0x41A7, 0x9168}, {0x9168, 0x41A7}, {0xA741, 0x6891}, {0x6891, 0xA741}}}},
      {123456.0, {{{0x47F1, 0x2000}, {0x2000, 0x47F1}, {0xF147, 0x0020}, {0x0020, 0xF147}}}},
      {-12.5, {{{0xC148, 0x0000}, {0x0000, 0xC148}, {0x48C1, 0x0000}, {0x0000, 0x48C1}}}},
      {1.0, {{{0x3F80, 0x0000}, {0x0000, 0x3F80}, {0x803F, 0x0000}, {0x0000, 0x803F}}}},
      {0.1950100064277649, {{{0x3E47, 0xB0B4}, {0xB0B4, 0x3E47}, {0x473E, 0xB4B0}, {0xB4B0, 0x473E}}}},
  };
  for (const Row& row : rows)
    for (std::size_t i = 0; i < orders.size(); ++i) {
      SCOPED_TRACE(testing::Message() << row.printed << " in order " << i);
      EXPECT_EQ(decode_number(Encoding::float32, orders[i], row.wire[i]), row.printed);
    }
}

TEST(DecodeNumber, ReadsDoublesInAllFourOrdersOfTheirBytes) {
  // IEEE 754-2019, binary64: the double nearest to 0.1 is 3FB9 9999 9999 999A.
  EXPECT_EQ(decode_number(Encoding::float64, ByteOrder::abcd, Words{0x3FB9, 0x9999, 0x9999, 0x999A}), 0.1);
  EXPECT_EQ(decode_number(Encoding::float64, ByteOrder::cdab, Words{0x999A, 0x9999, 0x9999, 0x3FB9}), 0.1);
  EXPECT_EQ(decode_number(Encoding::float64, ByteOrder::badc, Words{0xB93F, 0x9999, 0x9999, 0x9A99}), 0.1);
  EXPECT_EQ(decode_number(Encoding::float64, ByteOrder::dcba, Words{0x9A99, 0x9999, 0x9999, 0xB93F}), 0.1);
}

TEST(DecodeNumber, ReadsIntegersInAllFourOrdersOfTheirBytes) {
  EXPECT_EQ(decode_number(Encoding::uint32, ByteOrder::abcd, Words{0x0102, 0x0304}), 16909060.0);
  EXPECT_EQ(decode_number(Encoding::uint32, ByteOrder::cdab, Words{0x0304, 0x0102}), 16909060.0);
  EXPECT_EQ(decode_number(Encoding::uint32, ByteOrder::badc, Words{0x0201, 0x0403}), 16909060.0);
  EXPECT_EQ(decode_number(Encoding::uint32, ByteOrder::dcba, Words{0x0403, 0x0201}), 16909060.0);
  EXPECT_EQ(decode_number(Encoding::uint16, ByteOrder::abcd, Words{0x0102}), 258.0);
  EXPECT_EQ(decode_number(Encoding::uint16, ByteOrder::cdab, Words{0x0102}), 258.0);
  EXPECT_EQ(decode_number(Encoding::uint16, ByteOrder::badc, Words{0x0102}), 513.0);
  EXPECT_EQ(decode_number(Encoding::uint16, ByteOrder::dcba, Words{0x0102}), 513.0);
}

TEST(DecodeNumber, KeepsTheSignAtTheEdgesOfEachInteger) {
  constexpr auto order = ByteOrder::abcd;
  EXPECT_EQ(decode_number(Encoding::int16, order, Words{0x7FFF}), 32767.0);
  EXPECT_EQ(decode_number(Encoding::int16, order, Words{0x8000}), -32768.0);
  EXPECT_EQ(decode_number(Encoding::int16, order, Words{0xFFFF}), -1.0);
  EXPECT_EQ(decode_number(Encoding::uint16, order, Words{0xFFFF}), 65535.0);
  EXPECT_EQ(decode_number(Encoding::int32, order, Words{0x7FFF, 0xFFFF}), 2147483647.0);
  EXPECT_EQ(decode_number(Encoding::int32, order, Words{0x8000, 0x0000}), -2147483648.0);
  EXPECT_EQ(decode_number(Encoding::int32, order, Words{0xFFFF, 0xFFFF}), -1.0);
  EXPECT_EQ(decode_number(Encoding::uint32, order, Words{0xFFFF, 0xFFFF}), 4294967295.0);
}

TEST(DecodeNumber, ReadsABitAsZeroOrOne) {
  for (const ByteOrder order : orders) {
    EXPECT_EQ(decode_number(Encoding::bit, order, Words{0}), 0.0);
    EXPECT_EQ(decode_number(Encoding::bit, order, Words{1}), 1.0);
  }
}

TEST(DecodeNumber, HandsOnNotANumber) {
  EXPECT_TRUE(std::isnan(decode_number(Encoding::float32, ByteOrder::abcd, Words{0x7FC0, 0})));
  EXPECT_TRUE(std::isnan(decode_number(Encoding::float64, ByteOrder::dcba, Words{0, 0, 0, 0xF87F})));
}

TEST(Decode, AppliesTheDevicesScaleAndThenItsUnit) {
  // 2137 hundredths of a degree Celsius.
  const Point point{.encoding = Encoding::int16, .scale = 0.01, .offset = -0.5, .si_offset = 273.15};
  const Value value = decode(point, Words{2137});
  EXPECT_EQ(value.fault, ValueFault::none);
  EXPECT_EQ(value.raw, 2137.0);
  EXPECT_DOUBLE_EQ(value.si, 294.02);
  const Value kilo = decode(Point{.encoding = Encoding::uint16, .scale = 0.1, .si_scale = 1000.0}, Words{998});
  EXPECT_DOUBLE_EQ(kilo.si, 99800.0);
}

TEST(Decode, ComparesTheDevicesNoValueBeforeTheScale) {
  const Point point{.encoding = Encoding::int16, .scale = 0.1, .bad_values = {-32768.0, 32767.0}};
  EXPECT_EQ(decode(point, Words{0x8000}).fault, ValueFault::bad_value);
  EXPECT_EQ(decode(point, Words{0x7FFF}).fault, ValueFault::bad_value);
  EXPECT_EQ(decode(point, Words{0x8001}).fault, ValueFault::none);
  const Point tenths{.encoding = Encoding::int16, .scale = 0.1, .bad_values = {100.0}};
  EXPECT_EQ(decode(tenths, Words{1000}).fault, ValueFault::none); // 100.0 after the scale, not before
}

TEST(Decode, RecognisesANoValueThatIsRoundedInAFloat) {
  const Point point{.encoding = Encoding::float32, .bad_values = {-9999.9}};
  EXPECT_EQ(decode(point, Words{0xC61C, 0x3F9A}).fault, ValueFault::bad_value); // the float nearest to -9999.9
  EXPECT_EQ(decode(point, Words{0xC61C, 0x3F9B}).fault, ValueFault::none);
  const Point huge{.encoding = Encoding::float32, .bad_values = {1e300}};
  EXPECT_EQ(decode(huge, Words{0x7F80, 0}).fault, ValueFault::not_finite); // not taken for 1e300 rounded to a float
}

TEST(Decode, RefusesWhatIsNotFinite) {
  const Point point{.encoding = Encoding::float32};
  EXPECT_EQ(decode(point, Words{0x7FC0, 0x0000}).fault, ValueFault::not_finite); // quiet NaN
  EXPECT_EQ(decode(point, Words{0x7F80, 0x0001}).fault, ValueFault::not_finite); // signalling NaN
  EXPECT_EQ(decode(point, Words{0x7F80, 0x0000}).fault, ValueFault::not_finite);
  EXPECT_EQ(decode(point, Words{0xFF80, 0x0000}).fault, ValueFault::not_finite);
  const Point overflowing{.encoding = Encoding::float64, .scale = 1e10};
  EXPECT_EQ(decode(overflowing, Words{0x7FE0, 0, 0, 0}).fault, ValueFault::not_finite); // finite before the scale only
}

TEST(Decode, PermitsTheEndsOfTheSpanAndNothingBeyond) {
  const Point point{.encoding = Encoding::int16, .scale = 1.0, .lowest_si = -40.0, .highest_si = 60.0};
  EXPECT_EQ(decode(point, Words{60}).fault, ValueFault::none);
  EXPECT_EQ(decode(point, Words{61}).fault, ValueFault::out_of_range);
  EXPECT_EQ(decode(point, Words{61}).si, 61.0);
  EXPECT_EQ(decode(point, Words{0xFFD8}).fault, ValueFault::none);         // -40
  EXPECT_EQ(decode(point, Words{0xFFD7}).fault, ValueFault::out_of_range); // -41
}

TEST(Decode, FindsAWrongWordOrderByTheSpan) {
  // 20.946 with its words swapped is -1.83e-28: an absurd magnitude, but a number like any other.
  const Point point{.encoding = Encoding::float32, .order = ByteOrder::cdab, .lowest_si = 0.01, .highest_si = 30.0};
  EXPECT_EQ(decode(point, Words{0x41A7, 0x9168}).fault, ValueFault::out_of_range);
  EXPECT_EQ(decode(point, Words{0x9168, 0x41A7}).fault, ValueFault::none);
}

TEST(WordsOf, IsTheWidthOfEachEncoding) {
  EXPECT_EQ(words_of(Encoding::bit), 1);
  EXPECT_EQ(words_of(Encoding::int16), 1);
  EXPECT_EQ(words_of(Encoding::uint16), 1);
  EXPECT_EQ(words_of(Encoding::int32), 2);
  EXPECT_EQ(words_of(Encoding::uint32), 2);
  EXPECT_EQ(words_of(Encoding::float32), 2);
  EXPECT_EQ(words_of(Encoding::float64), 4);
}

} // namespace oxherd::decode_test
