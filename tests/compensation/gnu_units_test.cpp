// Against GNU Units (package `units`): its conversions and its standard atmosphere, each an independent table.
#include <cmath>
#include <map>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "compensation/barometry.hpp"
#include "compensation/units.hpp"
#include "tests/compensation/program.hpp"

namespace oxherd::compensation::gnu_units_test {

struct Question {
  std::string have, want;
};

/// One answer for each question.
std::vector<double> ask(const std::vector<Question>& questions) {
  std::string lines;
  for (const auto& [have, want] : questions) lines += have + "\\n" + want + "\\n";
  // Its own table, in plain numbers: neither a user's own units nor the language of the machine may change an answer.
  const auto out =
      program::run("printf '" + lines + "' | LC_ALL=C.UTF-8 units --quiet --one-line --digits 15 --file ''");
  EXPECT_EQ(out.status, 0) << out.text;
  std::vector<double> answers;
  for (std::size_t at = out.text.find('*'); at != std::string::npos; at = out.text.find('*', at + 1))
    answers.push_back(std::strtod(out.text.c_str() + at + 1, nullptr));
  return answers;
}

/// Its spelling of a unit of ours, where that differs.
std::string spelling(std::string_view symbol) {
  static const std::map<std::string_view, std::string> other{
      {"ppm", "1e-6"},     {"ppmv", "1e-6"},      {"/", "1"},
      {"fraction", "1"},   {"ratio", "1"},        {"%", "percent"},
      {"%RH", "percent"},  {"µV", "uV"},          {"\u03bcV", "uV"},
      {"Torr", "torr"},    {"min", "minute"},     {"h", "hour"},
      {"d", "day"},        {"m³", "m3"},          {"m3/h", "m3/hour"},
      {"m³/h", "m3/hour"}, {"l/min", "l/minute"}, {"ft3/min", "ft3/minute"}};
  const auto found = other.find(symbol);
  return found == other.end() ? std::string{symbol} : found->second;
}

TEST(GnuUnits, AgreesOnEveryScaleThatHasNoOffset) {
  std::vector<Question> questions;
  std::vector<Unit> asked;
  const std::map<Dimension, std::string> si{{Dimension::voltage, "V"},    {Dimension::pressure, "Pa"},
                                            {Dimension::ratio, "1"},      {Dimension::humidity, "1"},
                                            {Dimension::length, "m"},     {Dimension::duration, "s"},
                                            {Dimension::frequency, "Hz"}, {Dimension::power, "W"},
                                            {Dimension::volume, "m3"},    {Dimension::volume_flow, "m3/s"}};
  for (const auto& [dimension, unit_si] : si)
    for (const Unit& unit : units_of(dimension)) {
      questions.push_back({"1 " + spelling(unit.symbol), unit_si});
      asked.push_back(unit);
    }
  const auto answers = ask(questions);
  ASSERT_EQ(answers.size(), asked.size());
  EXPECT_GT(asked.size(), 30U);
  for (std::size_t i = 0; i < asked.size(); ++i) // ten digits: those of the mmHg and the inHg by convention
    EXPECT_NEAR(to_si(asked[i], 1.0) / answers[i], 1.0, 1e-9) << asked[i].symbol << " as " << questions[i].have;
}

TEST(GnuUnits, AgreesOnTemperaturesAndTheirDifferences) {
  for (const double value : {-40.0, -12.5, 0.0, 21.0, 54.0, 100.0}) {
    const std::string number = std::to_string(value);
    const auto answers = ask({{"tempC(" + number + ")", "K"},
                              {"tempF(" + number + ")", "K"},
                              {number + " degC", "K"},
                              {number + " degF", "K"}});
    ASSERT_EQ(answers.size(), 4U);
    EXPECT_NEAR(parse_quantity(number + " °C", Dimension::temperature).value(), answers[0], 1e-11);
    EXPECT_NEAR(parse_quantity(number + " °F", Dimension::temperature).value(), answers[1], 1e-11);
    EXPECT_NEAR(parse_quantity(number + " °C", Dimension::temperature_difference).value(), answers[2], 1e-12);
    EXPECT_NEAR(parse_quantity(number + " °F", Dimension::temperature_difference).value(), answers[3], 1e-12);
  }
}

// Its atmosphere has the constants of the US Standard Atmosphere 1976, ours those of ISO 2533: 0.03 Pa apart at most.
TEST(GnuUnits, AgreesOnTheStandardAtmosphereForBothKindsOfHeight) {
  std::vector<Question> questions;
  std::vector<double> heights;
  for (double h = -500.0; h <= 10500.0; h += 250.0) {
    const std::string metre = "(" + std::to_string(h) + " m)";
    questions.push_back({"stdatmPH" + metre, "Pa"});
    questions.push_back({"stdatmP" + metre, "Pa"});
    questions.push_back({"stdatmTH" + metre, "K"});
    questions.push_back({"geop_ht" + metre, "m"});
    heights.push_back(h);
  }
  const auto answers = ask(questions);
  ASSERT_EQ(answers.size(), 4 * heights.size());
  for (std::size_t i = 0; i < heights.size(); ++i) {
    SCOPED_TRACE(heights[i]);
    const auto h = GeopotentialAltitude::from_si(heights[i]);
    EXPECT_NEAR(standard_pressure(h).value().si(), answers[4 * i], 0.03);
    EXPECT_NEAR(standard_pressure(geopotential(metres(heights[i]))).value().si(), answers[4 * i + 1], 0.03);
    EXPECT_NEAR(standard_temperature(h).value().si(), answers[4 * i + 2], 1e-9);
    EXPECT_NEAR(geopotential(metres(heights[i])).si(), answers[4 * i + 3], 0.01);
  }
}

} // namespace oxherd::compensation::gnu_units_test
