#include "compensation/units.hpp"

#include <cmath>
#include <string>

#include <gtest/gtest.h>

namespace oxherd::compensation::units_test {

std::string refusal(std::string_view text, Dimension dimension) {
  const auto parsed = parse_quantity(text, dimension);
  return parsed ? "accepted" : parsed.error().message;
}

TEST(ParseQuantity, ReadsWhatPeopleType) {
  struct Row {
    std::string_view text;
    Dimension dimension;
    double si;
  };
  const Row table[] = {
      {"12.6 mV", Dimension::voltage, 0.0126},
      {"12.6mV", Dimension::voltage, 0.0126},
      {"12.6e-3 V", Dimension::voltage, 0.0126},
      {"12600 uV", Dimension::voltage, 0.0126},
      {"12600 \u00b5V", Dimension::voltage, 0.0126},
      {"12600 \u03bcV", Dimension::voltage, 0.0126},
      {"99.8kPa", Dimension::pressure, 99800.0},
      {"1013.25 mbar", Dimension::pressure, 101325.0},
      {"1013.25 hPa", Dimension::pressure, 101325.0},
      {"1 bar", Dimension::pressure, 1e5},
      {"1 atm", Dimension::pressure, 101325.0},
      {"760 Torr", Dimension::pressure, 101325.0},
      {"1 mmHg", Dimension::pressure, 133.322387415},         // ISO 80000-4, conventional
      {"29.92 inHg", Dimension::pressure, 101320.7481190027}, // 29.92 x 3386.388640341 Pa, NIST SP 811 B.8
      {"2.5 psi", Dimension::pressure, 17236.893232920},      // 2.5 x 6894.757293168 Pa, NIST SP 811 B.8
      {"54F", Dimension::temperature, 285.3722222222222},     // (54 - 32) / 1.8 + 273.15
      {"-40 °F", Dimension::temperature, 233.15},             // where both scales meet
      {"21 °C", Dimension::temperature, 294.15},
      {"21C", Dimension::temperature, 294.15},
      {"21 degC", Dimension::temperature, 294.15},
      {"21 \u2103", Dimension::temperature, 294.15},
      {"-5 °C", Dimension::temperature, 268.15},
      {"\u22125 °C", Dimension::temperature, 268.15},
      {"0 K", Dimension::temperature, 0.0},
      {"0.3 K", Dimension::temperature_difference, 0.3},
      {"0.3 °C", Dimension::temperature_difference, 0.3},
      {"0.5 F", Dimension::temperature_difference, 0.5 / 1.8},
      {"-400 K", Dimension::temperature_difference, -400.0},
      {"20.946 %", Dimension::ratio, 0.20946},
      {"0.0004 /", Dimension::ratio, 0.0004},
      {"0.2 1", Dimension::ratio, 0.2},
      {"0.2 fraction", Dimension::ratio, 0.2},
      {"400 ppm", Dimension::ratio, 0.0004},
      {"400 ppmv", Dimension::ratio, 0.0004},
      {"88%", Dimension::humidity, 0.88},
      {"45 %RH", Dimension::humidity, 0.45},
      {"640m", Dimension::length, 640.0},
      {"2100 ft", Dimension::length, 640.08},
      {"-1.5 km", Dimension::length, -1500.0},
      {"500 ms", Dimension::duration, 0.5},
      {"5min", Dimension::duration, 300.0},
      {"2 h", Dimension::duration, 7200.0},
      {"1d", Dimension::duration, 86400.0},
      {"50 Hz", Dimension::frequency, 50.0},
      {"1.5 kW", Dimension::power, 1500.0},
      {"3", Dimension::number, 3.0},
      {"-1e3", Dimension::number, -1000.0},
      {"  +.5 \t", Dimension::number, 0.5},
      {" 21\u00a0°C ", Dimension::temperature, 294.15},
      {"21\u202f°C", Dimension::temperature, 294.15},
  };
  for (const auto& row : table) {
    SCOPED_TRACE(row.text);
    const auto si = parse_quantity(row.text, row.dimension);
    ASSERT_TRUE(si) << si.error().message;
    EXPECT_NEAR(*si, row.si, 4e-16 * std::fabs(row.si));
  }
}

TEST(ParseQuantity, RoundsDecimalUnitsOnce) {
  EXPECT_EQ(parse_quantity("19.5 %", Dimension::ratio).value(), 0.195);
  EXPECT_EQ(parse_quantity("20.946 %", Dimension::ratio).value(), 0.20946);
  EXPECT_EQ(parse_quantity("12.6 mV", Dimension::voltage).value(), 0.0126);
  EXPECT_EQ(parse_quantity("1.1 mV", Dimension::voltage).value(), 0.0011);
  EXPECT_EQ(parse_quantity("427 ppm", Dimension::ratio).value(), 427e-6);
}

TEST(ParseQuantity, SaysWhatToWriteInstead) {
  EXPECT_EQ(refusal("19.5 kPa", Dimension::ratio), R"("19.5 kPa" is a pressure; write a fraction such as "19.5 %")");
  EXPECT_EQ(refusal("19.5", Dimension::ratio), R"("19.5" has no unit; write a fraction such as "19.5 %")");
  EXPECT_EQ(refusal("12.6 mV", Dimension::temperature),
            R"("12.6 mV" is a voltage; write a temperature such as "21 °C")");
  EXPECT_EQ(refusal("45 %RH", Dimension::ratio),
            R"("45 %RH" is a relative humidity; write a fraction such as "19.5 %")");
  EXPECT_EQ(refusal("5 V", Dimension::number), R"("5 V" is a voltage; write a number such as "3")");
  EXPECT_EQ(refusal("99.8 kpa", Dimension::pressure), R"("99.8 kpa": the unit "kpa" is written "kPa")");
  EXPECT_EQ(refusal("12 furlong", Dimension::length),
            R"("12 furlong": the unit "furlong" is not known; write a length such as "640 m")");
  EXPECT_EQ(refusal("", Dimension::pressure), R"(nothing is written; write a pressure such as "99.8 kPa")");
  EXPECT_EQ(refusal("kPa", Dimension::pressure),
            R"("kPa" does not start with a number; write a pressure such as "99.8 kPa")");
  EXPECT_EQ(refusal("-300 °C", Dimension::temperature),
            R"("-300 °C" is below absolute zero; write a temperature such as "21 °C")");
}

TEST(ParseQuantity, RefusesADecimalComma) {
  const std::string message = refusal("19,5 %", Dimension::ratio);
  EXPECT_EQ(message,
            R"("19,5 %" has a comma; write a decimal point and no separators between thousands, such as "19.5 %")");
  EXPECT_NE(refusal("1,013.25 hPa", Dimension::pressure), "accepted");
}

TEST(ParseQuantity, RefusesWhatIsNotAFiniteNumberWithAUnit) {
  for (const std::string_view text :
       {"nan V",    "inf V", "-inf V", "infinity V", "+-5 V", "--5 V", "- 5 V", ". V",          "e5 V", "1e999 V",
        "1e-999 V", "V 5",   "0x10 V", "5 V 6",      "5 VV",  "5 V;",  "5 5 V", "1e308 V junk", "+ V",  "+"})
    EXPECT_NE(refusal(text, Dimension::voltage), "accepted") << text;
  EXPECT_NE(refusal("1e308 kPa", Dimension::pressure), "accepted") << "overflows in pascals";
  EXPECT_NE(refusal("-1 K", Dimension::temperature), "accepted");
  EXPECT_NE(refusal("-460 F", Dimension::temperature), "accepted");
  EXPECT_NE(refusal(std::string_view{"5\0V", 3}, Dimension::voltage), "accepted");
  EXPECT_EQ(refusal("-459.67 F", Dimension::temperature), "accepted") << "absolute zero itself";
}

TEST(ParseQuantity, KeepsMessagesShortAndPrintable) {
  const std::string message = refusal(std::string(5000, 'x') + "\x1b[31m", Dimension::voltage);
  EXPECT_LT(message.size(), 200U);
  EXPECT_EQ(refusal("\x1b[31m", Dimension::voltage).find('\x1b'), std::string::npos);
  const std::string cut = refusal(std::string(59, 'x') + "\u00b5\u00b5", Dimension::voltage); // the cut falls inside µ
  EXPECT_NE(cut.find("x...\""), std::string::npos) << cut;
}

TEST(FindUnit, KnowsEverySpellingItLists) {
  for (int i = 0; i <= static_cast<int>(Dimension::number); ++i) {
    const auto dimension = static_cast<Dimension>(i);
    SCOPED_TRACE(name_of(dimension));
    ASSERT_FALSE(units_of(dimension).empty());
    for (const Unit& unit : units_of(dimension)) {
      EXPECT_EQ(unit.dimension, dimension) << unit.symbol;
      EXPECT_GT(unit.scale, 0.0) << unit.symbol;
      const auto found = find_unit(unit.symbol, dimension);
      ASSERT_TRUE(found) << unit.symbol;
      EXPECT_EQ(found->scale, unit.scale);
      EXPECT_EQ(found->offset, unit.offset);
    }
    const auto example = parse_quantity(example_of(dimension), dimension);
    EXPECT_TRUE(example) << example_of(dimension) << ": " << (example ? "" : example.error().message);
  }
}

TEST(FindUnit, RefusesASpellingOfAnotherDimension) {
  EXPECT_EQ(find_unit("kPa", Dimension::voltage).error().message,
            R"("kPa" is a pressure; write a voltage such as "12.6 mV")");
  EXPECT_FALSE(find_unit("", Dimension::pressure));
  EXPECT_FALSE(find_unit("MV", Dimension::voltage)) << "a megavolt is not a millivolt";
  EXPECT_EQ(units_of(Dimension::temperature).front().symbol, "°C");
  EXPECT_EQ(units_of(Dimension::ratio).front().symbol, "%");
}

TEST(UnitConversion, GoesBothWays) {
  const Unit fahrenheit = find_unit("F", Dimension::temperature).value();
  EXPECT_NEAR(from_si(fahrenheit, 285.3722222222222), 54.0, 1e-12);
  EXPECT_NEAR(to_si(fahrenheit, 54.0), 285.3722222222222, 1e-12);
  EXPECT_EQ(from_si(find_unit("%", Dimension::ratio).value(), 0.195), 19.5);
}

} // namespace oxherd::compensation::units_test
