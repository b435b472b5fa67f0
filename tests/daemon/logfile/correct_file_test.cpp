#include "daemon/logfile/correct_file.hpp"

#include <cmath>
#include <filesystem>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "compensation/oxygen_reading.hpp"
#include "daemon/digest.hpp"
#include "tests/daemon/logfile/logfile_fixture.hpp"

namespace oxherd::daemon::correct_file_test {

using logfile::correct_file;
using logfile_test::correct;
using logfile_test::fields_of;
using logfile_test::plain_header;
using logfile_test::plain_recipe;
using logfile_test::plain_row;
using logfile_test::Workshop;
using nlohmann::json;

const std::string one_row = std::string{plain_header} + plain_row;

std::string with(std::string text, std::string_view from, std::string_view to) {
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

/// The first row behind the header.
std::string second_line(const logfile_test::Corrected& done) {
  const auto lines = done.lines();
  EXPECT_GE(lines.size(), 2U);
  return lines.size() < 2 ? std::string{} : lines[1];
}

// Worked example E1 with its station pressure in place of the elevation: 0.204090595578 at 12.2222 °C, computed with
// 50 digits from IAPWS R7-97 and CIPM-2007; here the temperature is 54 °F as there.
TEST(ACorrectedRow, GivesTheWorkedExample) {
  const auto recipe = with(plain_recipe("[output]\ncolumns = [\"oxygen\", \"oxygen_wet\", \"po2\", \"pressure\", "
                                        "\"vapour_pressure\", \"uncorrected\", \"sea_level_equivalent\"]\n"
                                        "decimals = 7\n"),
                           "unit = \"°C\"", "unit = \"°F\"");
  const auto done = correct(std::string{plain_header} + "2026-03-02T06:00:00Z,11.9,54,88,93.8698381393\n", recipe);
  EXPECT_EQ(second_line(done),
            "2026-03-02T06:00:00Z,11.9,54,88,93.8698381393,20.4090596,20.1357064,18.9013550,93.8698381,"
            "1.2572660,19.7441803,18.6541870");
}

TEST(ACorrectedRow, AgreesExactlyWithOneReading) {
  const auto done = correct(one_row, plain_recipe("[output]\ncolumns = [\"oxygen\", \"u_oxygen\", \"oxygen_wet\", "
                                                  "\"u_oxygen_wet\", \"po2\", \"u_po2\"]\ndecimals = 9\n"));
  const auto recipe = logfile::parse_recipe(plain_recipe(), "r.toml", "");
  ASSERT_TRUE(recipe);
  const compensation::GasConditions gas{.temperature = {celsius(12.2), 0.3},
                                        .humidity = {percent_humidity(88.0), 0.03},
                                        .humidity_temperature = {},
                                        .pressure = {kilopascals(93.87), 50.0}};
  const auto reading = compensation::read_oxygen(recipe->cell.cell, recipe->calibration.calibration,
                                                 {Signal::from_si(11.9 / 1000.0), 0.02e-3}, gas);
  ASSERT_TRUE(reading);
  EXPECT_EQ(second_line(done),
            fmt::format("2026-03-02T06:00:00Z,11.9,12.2,88,93.87,{:.9f},{:.9f},{:.9f},{:.9f},{:.9f},{:.9f}",
                        reading->dry.si() * 100, reading->u_dry * 100, reading->wet.si() * 100, reading->u_wet * 100,
                        reading->po2.si() / 1e3, reading->u_po2_Pa / 1e3));
  ASSERT_TRUE(done.summary.least);
  EXPECT_EQ(done.summary.least->value, reading->dry.si());
}

TEST(ACorrectedFile, HasOxygenUncertaintyQualityAndRemarkBehindEachRow) {
  const auto done = correct(one_row, plain_recipe());
  const auto lines = done.lines();
  ASSERT_EQ(lines.size(), 2U);
  EXPECT_EQ(lines[0], "time,mV,T,RH,p,oxygen_percent,u_oxygen_percent,oxygen_quality,oxygen_remark");
  EXPECT_EQ(lines[1], "2026-03-02T06:00:00Z,11.9,12.2,88,93.87,20.4070,0.0660,good,");
  EXPECT_EQ(done.summary.rows, 1U);
  EXPECT_EQ(done.summary.good, 1U);
  EXPECT_EQ(done.summary.bad, 0U);
}

TEST(ACorrectedFile, KeepsMarkLineEndsPreambleCommentsAndEmptyLines) {
  const std::string input = "\xEF\xBB\xBFLarkfield\r\n\r\ntime,mV,T,RH,p\r\n# pause\r\n"
                            "2026-03-02T06:00:00Z,11.9,12.2,88,93.87\r\n\r\n2026-03-02T06:01:00Z,11.9,12.2,88,93.87";
  const auto done = correct(input, plain_recipe("[format]\ncomment = \"#\"\n[output]\ncolumns = [\"oxygen\"]\n"));
  EXPECT_EQ(done.text, "\xEF\xBB\xBFLarkfield\r\n\r\ntime,mV,T,RH,p,oxygen_percent\r\n# pause\r\n"
                       "2026-03-02T06:00:00Z,11.9,12.2,88,93.87,20.4070\r\n\r\n"
                       "2026-03-02T06:01:00Z,11.9,12.2,88,93.87,20.4070");
  EXPECT_EQ(done.summary.rows, 2U);
  EXPECT_EQ(done.summary.other_lines, 4U);
  EXPECT_EQ(done.summary.header_line, 3);
}

TEST(ACorrectedFile, KeepsBytesThatAreNotUtf8) {
  const auto done = correct("time,mV,T,RH,p,note\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87,k\xFChl\n", plain_recipe());
  EXPECT_NE(done.text.find(",k\xFChl,20.4070,"), std::string::npos) << done.text;
}

TEST(ACorrectedFile, WritesWithTheDelimiterAndTheDecimalMarkOfTheFile) {
  const auto done = correct("time;mV;T;RH;p\n2026-03-02T06:00:00Z;11,9;12,2;88;93,87\n", plain_recipe());
  EXPECT_EQ(second_line(done), "2026-03-02T06:00:00Z;11,9;12,2;88;93,87;20,4070;0,0660;good;");
}

TEST(ACorrectedFile, QuotesNumbersWhoseDecimalMarkIsTheDelimiter) {
  const auto done = correct("time,mV,T,RH,p\n2026-03-02T06:00:00Z,\"11,9\",\"12,2\",88,\"93,87\"\n", plain_recipe());
  EXPECT_EQ(second_line(done), "2026-03-02T06:00:00Z,\"11,9\",\"12,2\",88,\"93,87\",\"20,4070\",\"0,0660\",good,");
}

TEST(ACorrectedFile, ExtendsTheLineOfUnits) {
  const auto done = correct("time;mV;T;RH;p\n;mV;C;%;kPa\n2026-03-02T06:00:00Z;11.9;12.2;88;93.87\n",
                            plain_recipe("[format]\nunits_line = true\n"));
  EXPECT_EQ(second_line(done), ";mV;C;%;kPa;%;%;;");
  EXPECT_EQ(done.summary.rows, 1U);
}

TEST(ACorrectedFile, MayBeDividedByBlanks) {
  const auto done = correct("time  mV T  RH p\n2026-03-02T06:00:00Z  11.9 12.2  88 93.87\n"
                            "2026-03-02T06:01:00Z  NaN 12.2  88 93.87\n",
                            plain_recipe("[format]\ndelimiter = \"blanks\"\n"));
  const auto lines = done.lines();
  ASSERT_EQ(lines.size(), 3U);
  EXPECT_EQ(lines[1], "2026-03-02T06:00:00Z  11.9 12.2  88 93.87 20.4070 0.0660 good -");
  EXPECT_EQ(lines[2], "2026-03-02T06:01:00Z  NaN 12.2  88 93.87 - - bad \"signal is missing\"");
}

TEST(ACorrectedFile, TakesARowWithALineBreakInQuotes) {
  const auto done = correct("time,mV,T,RH,p,note\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87,\"door\nopen\"\n"
                            "2026-03-02T06:01:00Z,x,12.2,88,93.87,\n",
                            plain_recipe());
  EXPECT_NE(done.text.find(",\"door\nopen\",20.4070,"), std::string::npos) << done.text;
  EXPECT_EQ(
      done.summary.causes[logfile::cause_of(logfile::Quantity::signal, logfile::Trouble::not_a_number)].first_line, 4U);
}

TEST(ACorrectedFile, CarriesTheCautionInItsLinesOnlyWhenAsked) {
  EXPECT_EQ(correct(one_row, plain_recipe()).text.find("certified"), std::string::npos);
  const auto done = correct(one_row, plain_recipe("[output]\ncaution_lines = true\n"));
  EXPECT_TRUE(done.text.starts_with("# " + std::string{alarms::caution_long()} + "\ntime,")) << done.text;
}

TEST(ARowThatCannotBeCorrected, IsKeptAndMarkedWithItsCause) {
  const auto done = correct(std::string{plain_header} + "2026-03-02T06:00:00Z,,12.2,88,93.87\n"
                                                        "2026-03-02T06:01:00Z,11.9,warm,NaN,93.87\n"
                                                        "2026-03-02T06:02:00Z,11.9,12.2,88,938.7\n"
                                                        "2026-03-02T06:03:00Z,11.9,12.2,88\n"
                                                        "2026-03-02T06:04:00Z,11.9,12.2,88,93.87,9\n"
                                                        "2026-03-02T06:05:00Z,\"11.9,12.2,88,93.87\n"
                                                        "2026-03-02T06:06:00Z,11.9,12.2,88,93.87\n",
                            plain_recipe());
  const auto lines = done.lines();
  ASSERT_EQ(lines.size(), 8U);
  EXPECT_EQ(lines[1], "2026-03-02T06:00:00Z,,12.2,88,93.87,,,bad,signal is missing");
  EXPECT_EQ(lines[2],
            "2026-03-02T06:01:00Z,11.9,warm,NaN,93.87,,,bad,temperature is not a number and humidity is missing");
  EXPECT_EQ(lines[3], "2026-03-02T06:02:00Z,11.9,12.2,88,938.7,,,bad,pressure is outside its span");
  EXPECT_EQ(lines[4], "2026-03-02T06:03:00Z,11.9,12.2,88,,,,bad,fewer fields than other rows") << "padded to five";
  EXPECT_EQ(lines[5], "2026-03-02T06:04:00Z,11.9,12.2,88,93.87,9,,,bad,more fields than other rows");
  EXPECT_EQ(lines[6], "2026-03-02T06:05:00Z,\"11.9,12.2,88,93.87,,,bad,quotes are not closed");
  EXPECT_EQ(fields_of(lines[7])[7], "good");
  EXPECT_EQ(done.summary.rows, 7U);
  EXPECT_EQ(done.summary.bad, 6U);
  EXPECT_EQ(done.summary.causes[logfile::open_quote].first_line, 7U);
  EXPECT_EQ(done.summary.causes[logfile::fewer_fields].rows, 1U);
}

// Saturated at 85 °C the vapour alone has 58 kPa, more than the whole air at 5500 m.
TEST(ARowThatCannotBeCorrected, IsMarkedWhenTheEquationsRefuseIt) {
  const auto recipe = with(plain_recipe("[site]\nname = \"larkfield\"\nelevation = \"5500 m\"\n"), "[pressure]",
                           "[sea_level_pressure]");
  const auto done = correct(std::string{plain_header} + "2026-03-02T06:00:00Z,11.9,85,100,101\n", recipe);
  EXPECT_EQ(second_line(done), "2026-03-02T06:00:00Z,11.9,85,100,101,,,bad,no reading follows from these values");
  EXPECT_NE(done.summary.no_reading_example.find("vapour"), std::string::npos) << done.summary.no_reading_example;
}

TEST(AStandIn, AlsoTakesThePlaceOfAnImpossibleValue) {
  const auto recipe =
      with(plain_recipe(), "unit = \"kPa\"", "unit = \"kPa\"\notherwise = \"93.87 kPa\"\nu_otherwise = \"1 kPa\"");
  const auto done = correct(std::string{plain_header} + "2026-03-02T06:00:00Z,11.9,12.2,88,9.387\n", recipe);
  const auto fields = fields_of(second_line(done));
  EXPECT_EQ(fields[5], "20.4070");
  EXPECT_EQ(fields[8], "pressure is assumed");
}

TEST(AMissingValue, HasTheMarkersOfTheRecipe) {
  const auto done = correct(std::string{plain_header} + "2026-03-02T06:00:00Z,11.9,-9999,88,93.87\n"
                                                        "2026-03-02T06:01:00Z,11.9,NaN,88,93.87\n",
                            plain_recipe("[format]\nmissing = [\"-9999\"]\n[output]\nmissing = \"n/a\"\n"));
  const auto lines = done.lines();
  EXPECT_EQ(lines[1], "2026-03-02T06:00:00Z,11.9,-9999,88,93.87,n/a,n/a,bad,temperature is missing");
  EXPECT_EQ(lines[2], "2026-03-02T06:01:00Z,11.9,NaN,88,93.87,n/a,n/a,bad,temperature is not a number");
}

TEST(AStandIn, IsUsedWidensTheUncertaintyAndIsSaid) {
  const auto recipe =
      with(plain_recipe(), "unit = \"%\"", "unit = \"%\"\notherwise = \"88 %\"\nu_otherwise = \"20 %\"");
  const auto done =
      correct(std::string{plain_header} + plain_row + "2026-03-02T06:01:00Z,11.9,12.2,--,93.87\n", recipe);
  const auto lines = done.lines();
  ASSERT_EQ(lines.size(), 3U);
  const auto with_probe = fields_of(lines[1]);
  const auto without = fields_of(lines[2]);
  EXPECT_EQ(without[5], with_probe[5]);
  EXPECT_GT(std::stod(without[6]), std::stod(with_probe[6]));
  EXPECT_EQ(without[7], "uncertain");
  EXPECT_EQ(without[8], "humidity is assumed");
  EXPECT_EQ(done.summary.uncertain, 1U);
  EXPECT_EQ(done.summary.bad, 0U);
}

TEST(ASignalNearTheZero, IsCorrectedAndCalledUncertain) {
  const auto done = correct(std::string{plain_header} + "2026-03-02T06:00:00Z,0.45,12.2,88,93.87\n", plain_recipe());
  const auto fields = fields_of(second_line(done));
  EXPECT_EQ(fields[7], "uncertain");
  EXPECT_EQ(fields[8], "signal near zero: dead cell or no oxygen");
}

// One percent for each millivolt: with every value and uncertainty of the signal multiplied alike, the equations give
// the same reading, which the first of the two has been checked for elsewhere.
TEST(AnIndicatedOxygen, IsCorrectedAsTheSignalThatItIsInProportionTo) {
  const std::string stated = "[output]\ncolumns = [\"oxygen\", \"u_oxygen\", \"oxygen_wet\", \"po2\", \"u_po2\", "
                             "\"uncorrected\"]\ndecimals = 8\n";
  const auto in_mV = plain_recipe(stated);
  auto in_percent = with(in_mV, "unit = \"mV\"", "unit = \"%\"\nuncertainty = \"0.02 %\"");
  in_percent = with(in_percent, "zero = \"0.4 mV\"", "zero = \"0.4 %\"\nu_zero = \"0.05 %\"");
  in_percent = with(in_percent, "signal = \"12.6 mV\"", "signal = \"12.6 %\"\nu_signal = \"0.02 %\"");
  EXPECT_EQ(second_line(correct(one_row, in_percent)), second_line(correct(one_row, in_mV)));
}

TEST(AnIndicatedOxygen, GoesFromTheReferenceGasToOtherConditions) {
  // In dry gas at one temperature the signal of a partial-pressure cell is in proportion to fraction and pressure.
  auto recipe = with(plain_recipe("[output]\ncolumns = [\"oxygen\"]\n"), "unit = \"mV\"", "unit = \"%\"");
  recipe = with(recipe, "model = \"concentration\"\nzero = \"0.4 mV\"", "model = \"partial-pressure\"\nzero = \"0 %\"");
  recipe = with(recipe, "signal = \"12.6 mV\"", "signal = \"20.9 %\"");
  recipe = with(recipe, "humidity = \"45 %\"", "humidity = \"0 %\"");
  const auto done = correct(std::string{plain_header} + "2026-03-02T06:00:00Z,19.0,21,0,95\n", recipe);
  EXPECT_EQ(second_line(done),
            fmt::format("2026-03-02T06:00:00Z,19.0,21,0,95,{:.4f}", 20.946 * 19.0 / 20.9 * 99.8 / 95.0));
}

TEST(AnIndicatedOxygen, IsRefusedOutsideWhatOxygenCanBe) {
  auto recipe = with(plain_recipe(), "unit = \"mV\"", "unit = \"ppm\"");
  recipe = with(recipe, "zero = \"0.4 mV\"", "");
  recipe = with(recipe, "signal = \"12.6 mV\"", "signal = \"20.9 %\"");
  const auto done = correct(std::string{plain_header} + "2026-03-02T06:00:00Z,1020000,12.2,88,93.87\n"
                                                        "2026-03-02T06:01:00Z,900,12.2,88,93.87\n",
                            recipe);
  EXPECT_NE(done.text.find("bad,signal is outside its span\n"), std::string::npos) << done.text;
  EXPECT_NE(done.text.find("uncertain,signal near zero: dead cell or no oxygen\n"), std::string::npos) << done.text;
}

TEST(Inputs, MayBeConstants) {
  auto recipe = with(plain_recipe(), "column = \"RH\"\nunit = \"%\"", "value = \"88 %\"");
  recipe = with(recipe, "column = \"T\"\nunit = \"°C\"", "value = \"12.2 °C\"");
  EXPECT_EQ(fields_of(second_line(correct(one_row, recipe)))[5], "20.4070");
}

TEST(Inputs, MayIncludeTheHumidityProbesOwnThermometer) {
  const auto recipe = plain_recipe("[humidity_temperature]\ncolumn = \"T\"\nunit = \"°C\"\n");
  const auto done = correct(one_row, recipe);
  EXPECT_EQ(fields_of(second_line(done))[5], "20.4070");
}

// ISO 2533 pressure of 640 m geometric, 93.8698381393 kPa: worked example E1.
TEST(ThePressure, MayBeThatOfTheStandardAtmosphereAtTheElevation) {
  const auto recipe = with(plain_recipe("[site]\nname = \"larkfield\"\nelevation = \"640 m\"\n"),
                           "[pressure]\ncolumn = \"p\"\nunit = \"kPa\"\n", "");
  const auto done = correct(with(one_row, "12.2,", "12.22222222222222,"), recipe);
  EXPECT_EQ(fields_of(second_line(done))[5], "20.4091");
}

TEST(ThePressure, MayBeReducedToSeaLevel) {
  const auto recipe = with(plain_recipe("[site]\nname = \"larkfield\"\nelevation = \"640 m\"\n"
                                        "[output]\ncolumns = [\"pressure\"]\n"),
                           "[pressure]", "[sea_level_pressure]");
  const auto done = correct(with(one_row, "93.87", "101.325"), recipe);
  EXPECT_EQ(fields_of(second_line(done))[5], "93.8698");
}

TEST(Times, ThatDoNotIncreaseAreCounted) {
  const auto done = correct(
      std::string{plain_header} + plain_row + plain_row + "2026-03-02T05:00:00Z,11.9,12.2,88,93.87\n", plain_recipe());
  EXPECT_EQ(done.summary.not_increasing.rows, 2U);
  EXPECT_EQ(done.summary.not_increasing.first_line, 3U);
  EXPECT_EQ(done.summary.good, 3U);
  EXPECT_NE(logfile::summary_text(done.summary).find("times: 2 rows not later than the row before, first in line 3"),
            std::string::npos);
}

TEST(Times, ThatAreNotUnderstoodMakeARowUncertain) {
  const auto done = correct(with(one_row, "2026-03-02T06:00:00Z", "yesterday"), plain_recipe());
  EXPECT_EQ(second_line(done), "yesterday,11.9,12.2,88,93.87,20.4070,0.0660,uncertain,time is not understood");
}

TEST(Times, WithoutOffsetAndZoneAreTakenAsUtcAndThatIsSaid) {
  const auto open = correct(with(one_row, "06:00:00Z", "06:00:00"), plain_recipe());
  EXPECT_TRUE(open.summary.taken_as_utc);
  EXPECT_NE(logfile::summary_text(open.summary).find("taken as UTC"), std::string::npos);
  EXPECT_FALSE(correct(one_row, plain_recipe()).summary.taken_as_utc);
  const auto stated = with(plain_recipe(), "column = \"time\"", "column = \"time\"\nzone = \"UTC\"");
  EXPECT_FALSE(correct(with(one_row, "06:00:00Z", "06:00:00"), stated).summary.taken_as_utc);
}

TEST(Times, InTwoColumnsAndAnotherZoneAreWrittenInUtc) {
  const auto recipe = with(plain_recipe("[output]\ncolumns = [\"time\"]\n"), "column = \"time\"",
                           "columns = [\"day\", \"time\"]\nformat = \"%d.%m.%Y %H:%M\"\nzone = \"+01:00\"");
  const auto done = correct("day,time,mV,T,RH,p\n02.03.2026,06:05,11.9,12.2,88,93.87\n", recipe);
  EXPECT_EQ(second_line(done), "02.03.2026,06:05,11.9,12.2,88,93.87,2026-03-02T05:05:00.000Z");
}

/// The plain recipe for a logger whose clock follows a zone, with the instants beside the rows.
std::string zoned_recipe(const std::string& more = "") {
  return with(plain_recipe("[output]\ncolumns = [\"time\", \"quality\", \"remark\"]\n" + more), "column = \"time\"",
              "column = \"time\"\nzone = \"Europe/Amsterdam\"");
}

TEST(Times, OfANamedZoneFollowItsSummerTime) {
  const auto done = correct(std::string{plain_header} + "2026-01-02T06:00:00,11.9,12.2,88,93.87\n"
                                                        "2026-07-02T06:00:00,11.9,12.2,88,93.87\n"
                                                        "2026-07-02T06:00:00Z,11.9,12.2,88,93.87\n",
                            zoned_recipe());
  const auto lines = done.lines();
  ASSERT_EQ(lines.size(), 4U);
  EXPECT_EQ(fields_of(lines[1])[5], "2026-01-02T05:00:00.000Z");
  EXPECT_EQ(fields_of(lines[2])[5], "2026-07-02T04:00:00.000Z");
  EXPECT_EQ(fields_of(lines[3])[5], "2026-07-02T06:00:00.000Z") << "its own offset wins";
  EXPECT_EQ(done.summary.good, 3U);
  EXPECT_FALSE(done.summary.taken_as_utc);
}

TEST(Times, ThatTheClocksSkipAreNoneAndTheRowIsKeptAndMarked) {
  const auto done = correct(std::string{plain_header} + "2026-03-29T02:30:00,11.9,12.2,88,93.87\n", zoned_recipe());
  EXPECT_EQ(second_line(done),
            "2026-03-29T02:30:00,11.9,12.2,88,93.87,,uncertain,time that the clocks of its zone skip");
  EXPECT_EQ(done.summary.causes[logfile::time_skipped].first_line, 2U);
}

TEST(Times, ThatComeTwiceAreTheFirstPassThenTheSecond) {
  const auto done = correct(std::string{plain_header} + "2026-10-25T01:45:00,11.9,12.2,88,93.87\n"
                                                        "2026-10-25T02:15:00,11.9,12.2,88,93.87\n"
                                                        "2026-10-25T02:45:00,11.9,12.2,88,93.87\n"
                                                        "2026-10-25T02:15:00,11.9,12.2,88,93.87\n",
                            zoned_recipe());
  const auto lines = done.lines();
  ASSERT_EQ(lines.size(), 5U);
  EXPECT_EQ(fields_of(lines[2])[5], "2026-10-25T00:15:00.000Z");
  EXPECT_EQ(fields_of(lines[4])[5], "2026-10-25T01:15:00.000Z");
  EXPECT_EQ(done.summary.good, 4U);
  EXPECT_EQ(done.summary.not_increasing.rows, 0U) << "the instants increase";
}

TEST(Times, ThatComeTwiceAreMarkedWhenTheRowsDoNotTell) {
  const auto done = correct(std::string{plain_header} + "2026-10-25T02:15:00,11.9,12.2,88,93.87\n", zoned_recipe());
  EXPECT_EQ(second_line(done), "2026-10-25T02:15:00,11.9,12.2,88,93.87,2026-10-25T00:15:00.000Z,uncertain,"
                               "time that comes twice and the rows do not tell which it is");
}

// The daemon's rule: 1 % a month, rectangular, through the calibration signal. 30.4375 days after the calibration that
// adds 0.01/sqrt(3) of the span's signal, so u of the relative sensitivity grows by 0.005774.
TEST(TheAgeOfACalibration, WidensTheUncertainty) {
  const auto dated =
      plain_recipe("at = 2026-03-01T00:00:00Z\n[output]\ncolumns = [\"oxygen\", \"u_oxygen\"]\ndecimals = 6\n");
  const auto day = [](const char* date) { return std::string{date} + "T12:00:00Z,11.9,12.2,88,93.87\n"; };
  const auto done =
      correct(std::string{plain_header} + day("2026-02-01") + day("2026-03-01") + day("2026-04-30"), dated);
  const auto lines = done.lines();
  ASSERT_EQ(lines.size(), 4U);
  const auto x = std::stod(fields_of(lines[1])[5]);
  const auto before = std::stod(fields_of(lines[1])[6]);
  const auto after = std::stod(fields_of(lines[3])[6]);
  EXPECT_EQ(fields_of(lines[2])[6], fields_of(lines[1])[6]) << "not before a day has passed";
  const double drift = x * 0.01 / std::sqrt(3.0) * 60.0 / 30.4375;
  EXPECT_NEAR(after, std::hypot(before, drift), 2e-6);
}

TEST(TheInput, IsRefusedAsOutput) {
  Workshop shop;
  const auto recipe = logfile::parse_recipe(plain_recipe(), "r.toml", "");
  ASSERT_TRUE(recipe);
  const auto in = shop.directory().file("in.csv", one_row);
  const auto other_name = (shop.directory().path() / "link.csv").string();
  std::filesystem::create_hard_link(in, other_name);
  const auto done = correct_file(
      *recipe,
      {.input = in, .output = other_name, .force = true, .record = "", .now = {}, .version = "", .progress = {}});
  ASSERT_FALSE(done);
  EXPECT_NE(done.error().what.find("is the input itself"), std::string::npos);
  EXPECT_EQ(logfile_test::text_of_file(in), one_row);
}

TEST(AnExistingOutput, IsReplacedOnlyWithForce) {
  Workshop shop;
  const auto recipe = logfile::parse_recipe(plain_recipe(), "r.toml", "");
  ASSERT_TRUE(recipe);
  const auto out = shop.directory().file("out.csv", "precious");
  logfile::Correction wanted{.input = shop.directory().file("in.csv", one_row),
                             .output = out,
                             .force = false,
                             .record = "",
                             .now = {},
                             .version = "",
                             .progress = {}};
  const auto refused = correct_file(*recipe, wanted);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().what, out + ": exists already; --force replaces it");
  EXPECT_EQ(logfile_test::text_of_file(out), "precious");
  wanted.force = true;
  EXPECT_TRUE(correct_file(*recipe, wanted));
  EXPECT_TRUE(logfile_test::text_of_file(out).starts_with("time,"));
}

TEST(AStoppedCorrection, LeavesNothingBehind) {
  Workshop shop;
  const auto recipe = logfile::parse_recipe(plain_recipe(), "r.toml", "");
  ASSERT_TRUE(recipe);
  const auto done = correct_file(*recipe, {.input = shop.directory().file("in.csv", one_row),
                                           .output = shop.out(),
                                           .force = false,
                                           .record = shop.out() + ".record.json",
                                           .now = {},
                                           .version = "",
                                           .progress = [](const logfile::Progress&) { return false; }});
  ASSERT_FALSE(done);
  std::vector<std::string> left;
  for (const auto& entry : std::filesystem::directory_iterator{shop.directory().path()})
    left.push_back(entry.path().filename());
  EXPECT_EQ(left, std::vector<std::string>{"in.csv"});
}

TEST(TheRecord, SaysWhatWasDoneSoThatItCanBeRepeated) {
  const auto done = correct(one_row, plain_recipe());
  const auto record = json::parse(done.record);
  EXPECT_EQ(record["input"]["sha256"], sha256_of(one_row));
  EXPECT_EQ(record["input"]["bytes"], one_row.size());
  EXPECT_EQ(record["recipe"]["text"], plain_recipe());
  EXPECT_EQ(record["at"], "2026-03-02T06:05:00.000Z");
  EXPECT_EQ(record["version"], "0");
  EXPECT_EQ(record["result"]["rows"], 1);
  EXPECT_EQ(record["output"]["sha256"], sha256_of(done.text));
  EXPECT_EQ(record["caution"], std::string{alarms::caution_long()});
}

// FIPS 180-4: the digest of "abc", from the example of NIST.
TEST(TheDigest, IsSha256) {
  EXPECT_EQ(sha256_of("abc"), "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

TEST(AFileCorrectedBefore, IsRefusedUnlessThePrefixIsAnother) {
  const auto first = correct(one_row, plain_recipe());
  const auto again = Workshop{}.correct(first.text, plain_recipe());
  EXPECT_NE(again.failure.find("has a column \"oxygen_percent\" already"), std::string::npos) << again.failure;
  const auto renamed = correct(first.text, plain_recipe("[output]\nprefix = \"second_\"\n"));
  EXPECT_NE(renamed.lines()[0].find(",second_oxygen_percent,"), std::string::npos);
}

TEST(WideText, IsRefusedWithTheWayToConvertIt) {
  const auto done = Workshop{}.correct(std::string{"\xFF\xFEt\0i\0", 6}, plain_recipe());
  EXPECT_NE(done.failure.find("UTF-16"), std::string::npos) << done.failure;
}

TEST(LinesThatEndWithCrAlone, AreRefusedWithTheWayToConvertThem) {
  const auto done = Workshop{}.correct("time,mV,T,RH,p\r2026-03-02T06:00:00Z,11.9,12.2,88,93.87\r", plain_recipe());
  EXPECT_NE(done.failure.find("CR alone"), std::string::npos) << done.failure;
}

TEST(AFileWithAHeaderOnly, HasNoRows) {
  const auto done = correct(plain_header, plain_recipe());
  EXPECT_EQ(done.summary.rows, 0U);
  EXPECT_EQ(done.lines().size(), 1U);
  EXPECT_FALSE(done.summary.least);
}

TEST(ABlockOfNulls, AsAPowerCutLeavesItIsKeptAndMarked) {
  const std::string nulls(3'000'000, '\0');
  const auto input = one_row + nulls + "\n2026-03-02T06:01:00Z,11.9,12.2,88,93.87\n";
  const auto done = correct(input, plain_recipe("[output]\ncolumns = [\"quality\"]\n"));
  EXPECT_EQ(done.summary.rows, 3U);
  EXPECT_EQ(done.summary.bad, 1U);
  EXPECT_EQ(done.summary.causes[logfile::too_long].first_line, 3U);
  EXPECT_NE(done.text.find(nulls + ",bad\n2026-03-02T06:01:00Z"), std::string::npos);
}

} // namespace oxherd::daemon::correct_file_test
