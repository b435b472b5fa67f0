#include "daemon/logfile/number.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>

#include <fmt/core.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace oxherd::daemon::number_test {

using logfile::append_fixed;
using logfile::parse_number;

std::string fixed(double value, int decimals, char decimal = '.') {
  std::string out;
  append_fixed(out, value, decimals, decimal);
  return out;
}

TEST(ANumber, IsReadWithItsDecimalMark) {
  EXPECT_EQ(parse_number("12.6", '.'), 12.6);
  EXPECT_EQ(parse_number("12,6", ','), 12.6);
  EXPECT_EQ(parse_number("-0,05", ','), -0.05);
  EXPECT_EQ(parse_number("+7", '.'), 7.0);
  EXPECT_EQ(parse_number(".5", '.'), 0.5);
  EXPECT_EQ(parse_number("5.", '.'), 5.0);
  EXPECT_EQ(parse_number("1.2E-3", '.'), 1.2e-3);
  EXPECT_EQ(parse_number("1,2e3", ','), 1200.0);
}

TEST(ANumber, IsRefusedWhenAnythingElseIsThere) {
  for (const char* text : {"", "-", "+", ".", "e5", "12,6", "1.2.3", "12 6", " 12", "12 ", "0x10", "inf", "nan",
                           "1e999", "--1", "+-1", "1e", "12.6mV", "1'000"})
    EXPECT_FALSE(parse_number(text, '.')) << text;
  EXPECT_FALSE(parse_number("12.6", ','));
  EXPECT_FALSE(parse_number("1.234,5", ','));
}

RC_GTEST_PROP(ANumber, IsReadAsTheStandardLibraryReadsIt, (std::int64_t digits)) {
  const auto after = *rc::gen::inRange(0, 25);
  std::string text = std::to_string(digits);
  const auto sign = text.front() == '-' ? 1U : 0U;
  while (text.size() < sign + static_cast<std::size_t>(after) + 1) text.insert(sign, "0");
  if (after > 0) text.insert(text.size() - static_cast<std::size_t>(after), ".");
  double expected = 0.0;
  std::from_chars(text.data(), text.data() + text.size(), expected);
  const auto got = parse_number(text, '.');
  RC_ASSERT(got.has_value());
  RC_ASSERT(*got == expected);
}

// Short ones take a way of their own.
RC_GTEST_PROP(AShortNumber, IsReadAsTheStandardLibraryReadsIt, ()) {
  const auto length = *rc::gen::inRange<std::size_t>(1, 12);
  auto text = *rc::gen::container<std::string>(length, rc::gen::inRange('0', static_cast<char>('9' + 1)));
  text.insert(*rc::gen::inRange<std::size_t>(0, length + 1), ".");
  if (*rc::gen::arbitrary<bool>()) text.insert(0, "-");
  double expected = 0.0;
  std::from_chars(text.data(), text.data() + text.size(), expected);
  const auto got = parse_number(text, '.');
  RC_ASSERT(got.has_value());
  RC_ASSERT(*got == expected);
  std::replace(text.begin(), text.end(), '.', ',');
  RC_ASSERT(parse_number(text, ',') == got);
}

TEST(AShortNumber, IsRefusedForAnyOtherByteAtAnyPlace) {
  for (std::size_t length = 4; length <= 8; ++length)
    for (std::size_t at = 0; at < length; ++at)
      for (int byte = 0; byte < 256; ++byte) {
        const char c = static_cast<char>(byte);
        std::string text = std::string{"12345678"}.substr(0, length);
        text[at] = c;
        const bool sign = at == 0 && (c == '-' || c == '+');
        const bool exponent = at > 0 && at + 1 < length && (c == 'e' || c == 'E');
        const bool number = (c >= '0' && c <= '9') || c == '.' || sign;
        if (!exponent) {
          EXPECT_EQ(parse_number(text, '.').has_value(), number) << text;
        }
      }
}

RC_GTEST_PROP(AnyText, IsANumberOnlyWhenTheStandardLibraryAgrees, ()) {
  const auto text = *rc::gen::container<std::string>(rc::gen::element('0', '1', '9', '.', '-', 'e', ','));
  const auto got = parse_number(text, '.');
  double expected = 0.0;
  const auto [end, trouble] = std::from_chars(text.data(), text.data() + text.size(), expected);
  const bool whole = trouble == std::errc{} && end == text.data() + text.size();
  RC_ASSERT(got.has_value() == whole);
  if (whole) RC_ASSERT(*got == expected);
}

TEST(AFixedNumber, IsRoundedToNearest) {
  EXPECT_EQ(fixed(20.94649, 3), "20.946");
  EXPECT_EQ(fixed(20.9465001, 3), "20.947");
  EXPECT_EQ(fixed(-0.25001, 1), "-0.3");
  EXPECT_EQ(fixed(99.9999, 2), "100.00");
  EXPECT_EQ(fixed(7.4, 0), "7");
  EXPECT_EQ(fixed(0.001, 4, ','), "0,0010");
}

TEST(AFixedNumber, HasNoMinusZero) {
  EXPECT_EQ(fixed(-0.0, 2), "0.00");
  EXPECT_EQ(fixed(-1e-9, 2), "0.00");
}

TEST(AFixedNumber, StaysReadableBeyondAnyReading) { EXPECT_EQ(fixed(1e30, 2, ','), "1,00e+30"); }

/// The digits of the nearest whole number of units, put down one by one.
std::string put_down(double value, int decimals) {
  const double units = std::nearbyint(std::fabs(value) * std::pow(10.0, decimals));
  auto text = fmt::format("{:0{}.0f}", units, decimals + 1);
  if (decimals > 0) text.insert(text.size() - static_cast<std::size_t>(decimals), ".");
  return (std::signbit(value) && units != 0.0 ? "-" : "") + text;
}

RC_GTEST_PROP(AFixedNumber, IsTheNearestWholeNumberOfItsLastUnit, ()) {
  const int decimals = *rc::gen::inRange(0, logfile::decimals_max + 1);
  const double scale = std::pow(2.0, *rc::gen::inRange(-40, 20)); // halves of a unit are among them
  const double value = static_cast<double>(*rc::gen::arbitrary<std::int32_t>()) * scale;
  RC_PRE(std::fabs(value) * std::pow(10.0, decimals) < 9e15);
  RC_ASSERT(fixed(value, decimals) == put_down(value, decimals));
}

TEST(AFixedNumber, KeepsEveryDigitWhereItsWayOfWritingChanges) {
  for (const double value : {0.0, 0.5, 1.5, 2.5, 9.5, 99999999.0, 99999999.5, 100000000.0, 4503599627370495.5,
                             4503599627370496.0, 4503599627370497.0, 8999999999999999.0})
    for (const int decimals : {0, 1, 7, 8, 9})
      if (value * std::pow(10.0, decimals) < 9e15) {
        EXPECT_EQ(fixed(value, decimals), put_down(value, decimals));
        EXPECT_EQ(fixed(-value, decimals), put_down(-value, decimals));
      }
}

RC_GTEST_PROP(AFixedNumber, ReadsBackWithinHalfAUnitOfItsLastDigit, ()) {
  const double value = static_cast<double>(*rc::gen::inRange(-2'000'000'000, 2'000'000'000)) / 1.7e7;
  const int decimals = *rc::gen::inRange(0, logfile::decimals_max + 1);
  const auto back = parse_number(fixed(value, decimals), '.');
  RC_ASSERT(back.has_value());
  RC_ASSERT(std::fabs(*back - value) <= 0.5 * std::pow(10.0, -decimals) + 1e-12);
}

} // namespace oxherd::daemon::number_test
