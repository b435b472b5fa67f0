#include "daemon/logfile/draft.hpp"

#include <gtest/gtest.h>

#include "daemon/logfile/recipe.hpp"
#include "tests/daemon/logfile/logfile_fixture.hpp"

namespace oxherd::daemon::draft_test {

using logfile::draft_recipe;
using logfile::parse_recipe;
using logfile::Quantity;
using logfile_test::cell_tables;
using logfile_test::problems_of;
using logfile_test::text_of_file;

const std::string demo = std::string{OXHERD_SOURCE_DIR} + "/demo/";

std::string draft(const std::string& text) {
  const auto got = draft_recipe(text, "in.csv");
  EXPECT_TRUE(got) << got.error().what;
  return got.value_or("");
}

bool has(const std::string& text, std::string_view part) { return text.find(part) != std::string::npos; }

std::string put(std::string text, std::string_view from, std::string_view to) {
  const auto at = text.find(from);
  EXPECT_NE(at, std::string::npos) << from << " in\n" << text;
  return at == std::string::npos ? text : text.replace(at, from.size(), to);
}

/// Takes the comment marks off the lines from the one that begins so up to the next empty one.
std::string filled_in(std::string text, std::string_view first, std::string_view values) {
  const auto begin = text.find("# " + std::string{first});
  EXPECT_NE(begin, std::string::npos) << first << " in\n" << text;
  if (begin == std::string::npos) return text;
  return text.replace(begin, text.find("\n\n", begin) - begin, values);
}

/// The table of one name, up to the next empty line.
std::string table(const std::string& text, const std::string& name) {
  const auto begin = text.find("\n[" + name + "]\n");
  return begin == std::string::npos ? "" : text.substr(begin + 1, text.find("\n\n", begin) - begin);
}

const std::string plain = "Time,O2 [mV],T [°C],RH,p\n2026-03-02T06:00:00Z,11.9,12.2,88,938.7\n"
                          "2026-03-02T06:01:00Z,11.8,12.1,87,938.6\n";

TEST(ADraft, NamesEachColumnItsUnitAndTheReason) {
  const auto text = draft(plain);
  EXPECT_EQ(table(text, "signal"),
            "[signal]\ncolumn = \"O2 [mV]\" # its name says oxygen or signal; its unit is in its name; 2 values from "
            "11.8 to 11.9\nunit = \"mV\"\n");
  EXPECT_TRUE(has(table(text, "temperature"), "unit = \"°C\"\n")) << text;
  EXPECT_TRUE(has(table(text, "humidity"), "only in %RH are these values of a room; 2 values from 87 to 88")) << text;
  EXPECT_TRUE(has(table(text, "pressure"), "unit = \"hPa\"\n")) << text;
  EXPECT_TRUE(has(table(text, "time"), "format = \"iso\" # reads each of the 2 rows looked at\n# No zone is needed"))
      << text;
}

TEST(ADraft, IsRefusedWithWhatIsStillToBeFilledIn) {
  const auto problems = problems_of(parse_recipe(draft(plain), "r.toml", ""));
  EXPECT_TRUE(has(problems, "cell: missing; write [cell] with its model")) << problems;
  EXPECT_TRUE(has(problems, "calibration: missing; write [calibration]")) << problems;
  EXPECT_FALSE(has(problems, "pressure: missing")) << problems;
  EXPECT_FALSE(has(problems, "signal: missing;")) << problems;
}

TEST(ADraft, LoadsAndCorrectsWhenCellAndCalibrationAreThere) {
  const auto recipe = draft(plain) + cell_tables;
  const auto done = logfile_test::correct(plain, recipe);
  EXPECT_EQ(done.summary.good, 2U);
  EXPECT_TRUE(has(done.text, "2026-03-02T06:00:00Z,11.9,12.2,88,938.7,20.4070,0.0660,good,")) << done.text;
}

// What the file cannot tell is taken from the recipe of the demo; the rest stays as it was drafted.
TEST(ADraftOfTheDemosFile, GivesTheOutputOfTheDemosRecipe) {
  const auto input = text_of_file(demo + "growth-chamber-1.csv");
  const auto theirs = text_of_file(demo + "growth-chamber-1.recipe.toml");
  auto mine = draft(input);
  mine = put(mine, "# zone = \"+01:00\"", "zone = \"+01:00\"");
  mine = put(mine, "unit = \"mV\"\n", "unit = \"mV\"\nuncertainty = \"0.02 mV\"\n");
  const std::string humidity = "otherwise = \"65 %\"\nu_otherwise = \"10 %\"\n";
  mine = put(mine, "unit = \"%\"\n", "unit = \"%\"\n" + humidity);
  mine = filled_in(mine, "[pressure] ",
                   "[sea_level_pressure]\ncolumn = \"qnh_hPa\"\nunit = \"hPa\"\nfrom = \"ambient\"\n[ambient]\n"
                   "file = \"second.csv\"\nmax_gap = \"15 min\"\ntime = { column = \"time\" }\n"
                   "[site]\nname = \"larkfield\"\nelevation = \"212 m\"");
  mine =
      filled_in(mine, "[cell]", theirs.substr(theirs.find("[cell]"), theirs.find("[output]") - theirs.find("[cell]")));
  mine = filled_in(mine, "[calibration]", "");
  mine = put(mine, mine.substr(mine.find("[output]")), theirs.substr(theirs.find("[output]")));
  const auto weather = text_of_file(demo + "larkfield-weather.csv");
  const auto with_mine = logfile_test::correct(input, mine, weather);
  const auto with_theirs =
      logfile_test::correct(input, put(theirs, "larkfield-weather.csv\"", "second.csv\""), weather);
  EXPECT_EQ(with_mine.text, with_theirs.text);
  EXPECT_EQ(with_mine.summary.rows, 36U);
}

TEST(ADraftOfTheDemosFile, SaysHowTheFileIsWritten) {
  const auto text = draft(text_of_file(demo + "growth-chamber-1.csv"));
  EXPECT_TRUE(has(text, "delimiter = \";\"")) << text;
  EXPECT_TRUE(has(text, "decimal = \",\"")) << text;
  EXPECT_TRUE(has(text, "# The header is line 4:")) << text;
  EXPECT_TRUE(has(text, "units_line = true")) << text;
  EXPECT_TRUE(has(text, "columns = [\"Date\", \"Time\"]\nformat = \"%d.%m.%Y %H:%M:%S\"")) << text;
  EXPECT_TRUE(has(text, "# TO FILL IN: no column was found that looks like an air pressure")) << text;
}

TEST(ADraft, LeavesTheUnitOfASignalOpenWhenNothingTellsIt) {
  const auto text = draft("time,oxygen,temp\n2026-03-02T06:00:00Z,20.9,21\n");
  EXPECT_TRUE(has(table(text, "signal"), "# TO FILL IN: neither the header nor the values tell the unit.")) << text;
  EXPECT_TRUE(has(problems_of(parse_recipe(text + cell_tables, "r.toml", "")), "signal.unit: missing")) << text;
}

TEST(ADraft, LeavesTheOrderOfDayAndMonthOpenWhenNoRowTellsIt) {
  const auto open = draft("time,O2_mV\n03/04/2026 06:00,11.9\n03/04/2026 06:01,11.8\n");
  EXPECT_TRUE(has(open, "#   \"%d/%m/%Y %H:%M\"\n#   \"%m/%d/%Y %H:%M\"\nformat = \"?\"\n")) << open;
  EXPECT_TRUE(has(problems_of(parse_recipe(open, "r.toml", "")), "time.format: is neither")) << open;
  const auto told = draft("time,O2_mV\n03/13/2026 06:00,11.9\n03/14/2026 06:01,11.8\n");
  EXPECT_TRUE(has(told, "\nformat = \"%m/%d/%Y %H:%M\" #")) << told;
}

TEST(ADraft, ConcludesAUnitFromValuesOnlyWhereASingleOneFits) {
  EXPECT_TRUE(has(table(draft("temp,O2_mV\n70,11\n72,11\n"), "temperature"), "unit = \"°F\"\n"));
  EXPECT_TRUE(has(table(draft("temp,O2_mV\n294,11\n295,11\n"), "temperature"), "unit = \"K\"\n"));
  EXPECT_TRUE(has(table(draft("baro,O2_mV\n29.5,11\n29.6,11\n"), "pressure"), "unit = \"inHg\"\n"));
  EXPECT_TRUE(has(table(draft("baro,O2_mV\n700,11\n701,11\n"), "pressure"), "# TO FILL IN"))
      << "hPa on a mountain, or mmHg";
}

TEST(ADraft, TakesAnIndicatedOxygenInPercent) {
  const auto text = draft("time,O2 %,CO2 ppm,RH %\n2026-03-02T06:00:00Z,20.9,600,50\n");
  EXPECT_TRUE(has(table(text, "signal"), "column = \"O2 %\"")) << text;
  EXPECT_TRUE(has(table(text, "signal"), "unit = \"%\"\n")) << text;
  EXPECT_TRUE(has(table(text, "humidity"), "column = \"RH %\"")) << text;
  EXPECT_TRUE(has(text, "# signal = \"20.9 %\" # what it indicated in the reference gas")) << text;
}

TEST(ADraft, KnowsColumnsByUnitAloneAndByNumberedNames) {
  const auto text = draft("time,mV,T1,RH2,hPa\n2026-03-02T06:00:00Z,11.9,12.2,88,938.7\n");
  EXPECT_TRUE(has(table(text, "signal"), "column = \"mV\" # its unit is in its name; 1 value from 11.9 to 11.9\n"))
      << text;
  EXPECT_TRUE(has(table(text, "temperature"), "column = \"T1\"")) << text;
  EXPECT_TRUE(has(table(text, "humidity"), "column = \"RH2\"")) << text;
  EXPECT_TRUE(has(table(text, "pressure"), "column = \"hPa\"")) << text;
}

TEST(ADraft, RefusesValuesThatTheirUnitCannotHave) {
  const auto text = draft("time,O2 [mV],T [°C]\n2026-03-02T06:00:00Z,11.9,2120\n");
  EXPECT_TRUE(has(text, "no column was found that looks like a temperature")) << text;
}

TEST(ADraft, MentionsOtherColumnsThatCouldBeMeant) {
  const auto text = draft("T leaf [°C],T air [°C],O2_mV\n20,21,11\n");
  EXPECT_TRUE(has(table(text, "temperature"), "# Could be meant as well: \"T air [°C]\".")) << text;
}

TEST(ADraft, ReadsAFileWithoutHeaderByNumbers) {
  const std::string input = "1772431500;11,90\n1772431560;11,85\n";
  const auto text = draft(input);
  EXPECT_TRUE(has(text, "header = false     # a row with numbers, line 1, comes first\npreamble = 0\n")) << text;
  EXPECT_TRUE(has(text, "no column was found that looks like the signal")) << text;
}

TEST(ADraft, NamesAColumnByItsNumberWhereItsNameIsNone) {
  const auto text = draft("time,T [°C],O2_mV,O2_mV\n2026-03-02T06:00:00Z,21,11,12\n");
  EXPECT_TRUE(has(table(text, "signal"), "column = 3 #")) << text;
  EXPECT_TRUE(has(table(text, "signal"), "# Could be meant as well: 4.")) << text;
}

TEST(ADraft, KeepsAnOddNameOnItsLine) {
  const auto text = draft("time,\"O2\nnow \"\"a\"\" [mV]\"\n2026-03-02T06:00:00Z,11.9\n2026-03-02T06:01:00Z,11.9\n");
  EXPECT_TRUE(has(text, "column = \"O2\\nnow \\\"a\\\" [mV]\" #")) << text;
}

TEST(ADraft, NamesAColumnByItsNumberWhereARecipeCannotCarryTheName) {
  for (const char* name : {"O2\x92s mV", "O2 \xE0\x80\x80 mV"}) { // Windows-1252; no UTF-8, although it begins so
    const auto text = draft("time," + std::string{name} + "\n2026-03-02T06:00:00Z,11.9\n");
    EXPECT_TRUE(has(table(text, "signal"), "column = 2 #")) << text;
  }
}

TEST(ADraft, StaysTextWhateverTheFileIsCalled) {
  const auto text = draft_recipe(plain, "a\nb\xFF\x7F.csv");
  ASSERT_TRUE(text);
  EXPECT_TRUE(text->starts_with("# A recipe to begin with, from \"a\\nb\xEF\xBF\xBD\\u007F.csv\" (rows")) << *text;
  EXPECT_FALSE(has(problems_of(parse_recipe(*text, "r.toml", "")), "not TOML"));
}

TEST(ADraft, TakesTheWordsOfTheFileForAMissingValue) {
  const auto text = draft("O2_mV,x\n11.9,1\n11.8,1\n11.8,1\n11.8,1\nfault,1\n");
  EXPECT_TRUE(has(text, "\"---\", \"fault\"] # \"fault\" stood where a number should")) << text;
}

TEST(AFileWithoutATable, GivesNoDraft) {
  for (const char* text : {"", "just words\nmore words\n", "1\n2\n3\n"})
    EXPECT_NE(draft_recipe(text, "in.csv").error().what.find("in.csv: no table was found in it"), std::string::npos)
        << text;
}

} // namespace oxherd::daemon::draft_test
