#include "daemon/logfile/recipe.hpp"

#include <gtest/gtest.h>

#include "tests/daemon/logfile/logfile_fixture.hpp"

namespace oxherd::daemon::recipe_test {

using logfile::parse_recipe;
using logfile::Quantity;
using logfile_test::cell_tables;
using logfile_test::plain_recipe;
using logfile_test::problems_of;

std::string problems(const std::string& text) { return problems_of(parse_recipe(text, "r.toml", "/recipes")); }

std::string replaced(std::string text, std::string_view from, std::string_view to) {
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from;
  return text.replace(at, from.size(), to);
}

TEST(ARecipe, TakesTheDaemonsUncertaintiesWhereItStatesNone) {
  const auto recipe = parse_recipe(plain_recipe(), "r.toml", "/recipes");
  ASSERT_TRUE(recipe) << problems_of(recipe);
  EXPECT_EQ(recipe->source(Quantity::signal)->u_si, 0.02e-3);
  EXPECT_EQ(recipe->source(Quantity::temperature)->u_si, 0.3);
  EXPECT_EQ(recipe->source(Quantity::humidity)->u_si, 0.03);
  EXPECT_EQ(recipe->source(Quantity::pressure)->u_si, 50.0);
  EXPECT_FALSE(recipe->source(Quantity::humidity_temperature));
}

TEST(ARecipe, StatesItsOwnUncertainties) {
  const auto recipe =
      parse_recipe(replaced(plain_recipe(), "unit = \"°C\"", "unit = \"°F\"\nuncertainty = \"0.9 °F\""), "r.toml", "");
  ASSERT_TRUE(recipe) << problems_of(recipe);
  EXPECT_NEAR(recipe->source(Quantity::temperature)->u_si, 0.5, 1e-12);
}

TEST(ARecipe, ReportsEveryProblemWithItsLineAndColumn) {
  const auto found = problems("[time]\n"
                              "colum = \"time\"\n"
                              "[signal]\n"
                              "column = \"mV\"\n"
                              "unit = \"kPa\"\n"
                              "[temperature]\n"
                              "value = \"21 mV\"\n"
                              "[humidity]\n"
                              "column = 0\n"
                              "unit = \"%\"\n");
  EXPECT_NE(found.find("r.toml:2:1: time.colum: unknown key; did you mean \"column\"?"), std::string::npos) << found;
  EXPECT_NE(found.find("r.toml:1:2: time.column: missing"), std::string::npos) << found;
  EXPECT_NE(found.find("r.toml:5:8: signal.unit: \"kPa\" is a pressure; write a voltage"), std::string::npos) << found;
  EXPECT_NE(found.find("r.toml:7:9: temperature.value: \"21 mV\" is a voltage"), std::string::npos) << found;
  EXPECT_NE(found.find("r.toml:9:10: humidity.column: 0 names no column"), std::string::npos) << found;
  EXPECT_NE(found.find("cell: missing"), std::string::npos) << found;
  EXPECT_NE(found.find("calibration: missing"), std::string::npos) << found;
  EXPECT_NE(found.find("pressure: missing"), std::string::npos) << found;
}

TEST(ARecipe, ReadsCellAndCalibrationAsTheSettingsFileDoes) {
  const auto found = problems(replaced(plain_recipe(), "signal = \"12.6 mV\"", "signal = \"0.1 mV\""));
  EXPECT_NE(found.find("calibration.signal: 0.1 mV is not above the zero of 0.4 mV"), std::string::npos) << found;
}

TEST(ARecipe, IsNotTomlAtAllInOneProblem) {
  EXPECT_NE(problems("[time\n").find("this is not TOML"), std::string::npos);
}

TEST(ARecipe, TakesPressureOnceOnly) {
  const auto both = problems(plain_recipe("[site]\nname = \"larkfield\"\nelevation = \"212 m\"\n"
                                          "[sea_level_pressure]\nvalue = \"1013 hPa\"\n"));
  EXPECT_NE(both.find("sea_level_pressure: pressure is given as well"), std::string::npos) << both;
}

TEST(ARecipe, AsksForTheElevationOfAReducedPressure) {
  const auto found = problems(replaced(plain_recipe(), "[pressure]", "[sea_level_pressure]"));
  EXPECT_NE(found.find("sea_level_pressure: needs the elevation"), std::string::npos) << found;
}

TEST(ARecipe, AsksForTheElevationOfACalibrationsReducedPressure) {
  const auto found = problems(replaced(plain_recipe(), "pressure = \"99.8 kPa\"", "sea_level_pressure = \"1013 hPa\""));
  EXPECT_NE(found.find("calibration: sea_level_pressure needs an elevation"), std::string::npos) << found;
}

TEST(ARecipe, AsksForASecondFileThatAnInputNames) {
  const auto found = problems(replaced(plain_recipe(), "unit = \"kPa\"", "unit = \"kPa\"\nfrom = \"ambient\""));
  EXPECT_NE(found.find("needs [ambient]"), std::string::npos) << found;
}

TEST(ARecipe, WarnsOfASecondFileThatNobodyReads) {
  const auto recipe = parse_recipe(
      plain_recipe("[ambient]\nfile = \"w.csv\"\nmax_gap = \"10 min\"\ntime = { column = 1 }\n"), "r.toml", "/recipes");
  ASSERT_TRUE(recipe) << problems_of(recipe);
  ASSERT_EQ(recipe->warnings.size(), 1U);
  EXPECT_NE(config::to_string(recipe->warnings[0]).find("the file is not read"), std::string::npos);
  EXPECT_EQ(recipe->ambient->file, "/recipes/w.csv") << "a relative path counts from the recipe";
}

TEST(ARecipe, KeepsTheSignalInTheFileItself) {
  const auto found =
      problems(replaced(plain_recipe(), "unit = \"mV\"", "unit = \"mV\"\nfrom = \"ambient\"\notherwise = \"1 mV\""));
  EXPECT_NE(found.find("signal.from: the signal must stand in the file"), std::string::npos) << found;
  EXPECT_NE(found.find("signal.otherwise: unknown key"), std::string::npos) << found;
}

TEST(ARecipe, AsksHowUncertainAStandInIs) {
  const auto found = problems(replaced(plain_recipe(), "unit = \"%\"", "unit = \"%\"\notherwise = \"50 %\""));
  EXPECT_NE(found.find("humidity.u_otherwise: missing"), std::string::npos) << found;
}

TEST(ARecipe, NamesTheKnownColumnsOfTheOutput) {
  const auto found = problems(plain_recipe("[output]\ncolumns = [\"oxgen\", \"po2\", \"po2\"]\ndecimals = 12\n"));
  EXPECT_NE(found.find("\"oxgen\" is not known; write \"oxygen\""), std::string::npos) << found;
  EXPECT_NE(found.find("\"po2\" is named twice"), std::string::npos) << found;
  EXPECT_NE(found.find("output.decimals: 12 is outside 0 to 9"), std::string::npos) << found;
}

TEST(ARecipe, RefusesADecimalCommaBetweenCommasWithoutQuotes) {
  const auto found = problems(plain_recipe("[format]\ndelimiter = \",\"\ndecimal = \",\"\nquotes = false\n"));
  EXPECT_NE(found.find("needs quotes"), std::string::npos) << found;
}

TEST(ARecipe, RefusesAZoneThatIsNeitherAnOffsetNorInTheDatabase) {
  const auto found =
      problems(replaced(plain_recipe(), "column = \"time\"", "column = \"time\"\nzone = \"Europe/Larkfield\""));
  EXPECT_NE(found.find("r.toml:4:8: time.zone: \"Europe/Larkfield\" is no offset from UTC and no time zone"),
            std::string::npos)
      << found;
}

TEST(ARecipe, TakesAnOffsetOrAZone) {
  const auto zone_in = [](const std::string& name) {
    return parse_recipe(replaced(plain_recipe(), "column = \"time\"", "column = \"time\"\nzone = \"" + name + "\""),
                        "r.toml", "");
  };
  const auto fixed = zone_in("-03:30");
  ASSERT_TRUE(fixed) << problems_of(fixed);
  EXPECT_EQ(fixed->time->offset, std::chrono::minutes{-210});
  EXPECT_FALSE(fixed->time->zone);
  const auto named = zone_in("Europe/Amsterdam");
  ASSERT_TRUE(named) << problems_of(named);
  EXPECT_TRUE(named->time->zone);
}

/// A transmitter that indicates oxygen, with a calibration of its own kind.
std::string indicated_recipe() {
  auto text = replaced(plain_recipe(), "column = \"mV\"\nunit = \"mV\"", "column = \"O2\"\nunit = \"%\"");
  text = replaced(text, "zero = \"0.4 mV\"", "zero = \"0.1 %\"");
  return replaced(text, "signal = \"12.6 mV\"", "signal = \"20.9 %\"");
}

TEST(ARecipe, TakesAnIndicatedOxygenForASignal) {
  for (const char* unit : {"%", "ppm", "ppmv", "fraction"}) {
    const auto recipe = parse_recipe(
        replaced(indicated_recipe(), "unit = \"%\"", "unit = \"" + std::string{unit} + "\""), "r.toml", "");
    ASSERT_TRUE(recipe) << problems_of(recipe);
    EXPECT_EQ(recipe->signal_unit(), config::SignalUnit::indicated_fraction);
    EXPECT_DOUBLE_EQ(recipe->calibration.calibration.span.signal.value.si(), 0.209);
    EXPECT_DOUBLE_EQ(recipe->calibration.calibration.span.signal.u_si, 0.0004);
    EXPECT_DOUBLE_EQ(recipe->cell.nominal_zero.value.si(), 0.001);
    EXPECT_DOUBLE_EQ(recipe->cell.nominal_zero.u_si, 0.001);
    EXPECT_DOUBLE_EQ(recipe->cell.dead_below.si(), 0.002);
    EXPECT_DOUBLE_EQ(recipe->source(Quantity::signal)->u_si, 0.001);
    EXPECT_DOUBLE_EQ(recipe->source(Quantity::signal)->high_si, 1.01);
  }
}

TEST(ARecipe, RefusesMillivoltsForAnIndicatedOxygenAndSaysBothWaysOut) {
  const auto found = problems(replaced(indicated_recipe(), "signal = \"20.9 %\"", "signal = \"12.6 mV\""));
  EXPECT_NE(found.find("calibration.signal: \"12.6 mV\" is a voltage; write a fraction"), std::string::npos) << found;
  EXPECT_NE(found.find("signal.unit: the column holds an indicated oxygen in %, but calibration.signal is \"12.6 mV\"; "
                       "write there what was indicated, such as \"20.9 %\", or here mV"),
            std::string::npos)
      << found;
}

TEST(ARecipe, RefusesAnIndicatedOxygenForMillivoltsAndSaysBothWaysOut) {
  const auto found = problems(replaced(plain_recipe(), "pressure = \"99.8 kPa\"\n",
                                       "pressure = \"99.8 kPa\"\nlow = { signal = \"1.1 %\", oxygen = \"1 %\" }\n"));
  EXPECT_NE(found.find("signal.unit: the column holds a voltage in mV, but calibration.low.signal is \"1.1 %\"; write "
                       "there the signal, such as \"12.6 mV\", or here %"),
            std::string::npos)
      << found;
}

TEST(ARecipe, SpeaksOfNoVoltsWhereOxygenIsIndicated) {
  const auto low = problems(replaced(indicated_recipe(), "signal = \"20.9 %\"", "signal = \"0.1 %\""));
  EXPECT_NE(low.find("calibration.signal: 0.1 % is not above the zero of 0.1 %"), std::string::npos) << low;
  const auto absent = problems(replaced(indicated_recipe(), "signal = \"20.9 %\"", ""));
  EXPECT_NE(absent.find("calibration.signal: missing; write for example signal = \"20.9 %\""), std::string::npos)
      << absent;
  const auto zero = problems(replaced(indicated_recipe(), "zero = \"0.1 %\"", "zero = \"10 %\""));
  EXPECT_NE(zero.find("cell.zero: \"10 %\" is outside -5 % to 5 %"), std::string::npos) << zero;
  const auto in_air = problems(replaced(indicated_recipe(), "zero = \"0.1 %\"", "signal_in_air = \"20.9 %\""));
  EXPECT_NE(in_air.find("such as [\"19 %\", \"22 %\"]"), std::string::npos) << in_air;
  for (const auto& found : {low, absent, zero, in_air}) EXPECT_EQ(found.find("mV"), std::string::npos) << found;
}

TEST(ARecipe, RefusesAnIndicatedOxygenOfANernstCell) {
  const auto found = problems(replaced(indicated_recipe(), "model = \"concentration\"", "model = \"nernst\"") +
                              "[site]\nname = \"larkfield\"\nelevation = \"212 m\"\n");
  EXPECT_NE(found.find("signal.unit: an indicated oxygen is taken to be in proportion"), std::string::npos) << found;
}

TEST(TheRecipeOfTheDemo, IsAccepted) {
  const auto recipe = logfile::load_recipe(std::string{OXHERD_SOURCE_DIR} + "/demo/growth-chamber-1.recipe.toml");
  ASSERT_TRUE(recipe) << problems_of(recipe);
  EXPECT_TRUE(recipe->warnings.empty());
}

} // namespace oxherd::daemon::recipe_test
