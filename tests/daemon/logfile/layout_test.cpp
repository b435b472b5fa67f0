#include "daemon/logfile/layout.hpp"

#include <gtest/gtest.h>

#include "tests/daemon/logfile/logfile_fixture.hpp"

namespace oxherd::daemon::layout_test {

using logfile::find_layout;
using logfile::Format;
using logfile::Layout;
using logfile_test::plain_recipe;
using logfile_test::problems_of;

/// The layout that the plain recipe, with more tables, finds in a text.
tl::expected<Layout, logfile::Failure> layout_in(const std::string& text, const std::string& more = "",
                                                 const std::string& from = "", const std::string& to = "") {
  auto recipe_text = plain_recipe(more);
  for (auto at = from.empty() ? std::string::npos : recipe_text.find(from); at != std::string::npos;
       at = recipe_text.find(from, at + to.size()))
    recipe_text.replace(at, from.size(), to);
  const auto recipe = logfile::parse_recipe(recipe_text, "r.toml", "");
  EXPECT_TRUE(recipe) << problems_of(recipe);
  if (!recipe) return tl::unexpected(logfile::Failure{"recipe"});
  return find_layout(text, "in.csv", recipe->format, logfile::wanted_of(*recipe, logfile::Source::From::column));
}

TEST(ALayout, FindsEachDelimiter) {
  for (const char delimiter : {',', ';', '\t', '|'}) {
    std::string text = "time,mV,T,RH,p\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n";
    std::replace(text.begin(), text.end(), ',', delimiter);
    const auto layout = layout_in(text);
    ASSERT_TRUE(layout) << layout.error().what;
    EXPECT_EQ(layout->dialect.delimiter, delimiter);
    EXPECT_EQ(layout->dialect.decimal, '.');
    EXPECT_EQ(layout->columns, 5U);
  }
}

TEST(ALayout, FindsTheDecimalComma) {
  const auto layout = layout_in("time;mV;T;RH;p\n2026-03-02T06:00:00Z;11,9;12,2;88;93,87\n");
  ASSERT_TRUE(layout) << layout.error().what;
  EXPECT_EQ(layout->dialect.delimiter, ';');
  EXPECT_EQ(layout->dialect.decimal, ',');
}

TEST(ALayout, FindsTheDecimalCommaInsideQuotes) {
  const auto layout = layout_in("time,mV,T,RH,p\n2026-03-02T06:00:00Z,\"11,9\",\"12,2\",88,\"93,87\"\n");
  ASSERT_TRUE(layout) << layout.error().what;
  EXPECT_EQ(layout->dialect.delimiter, ',');
  EXPECT_EQ(layout->dialect.decimal, ',');
}

TEST(ALayout, FindsTheHeaderBelowAPreamble) {
  const auto layout =
      layout_in("Larkfield; logger 3\n\nserial, 7\nRH;p;time;mV;T\n88;93.87;2026-03-02T06:00:00Z;11.9;12.2\n");
  ASSERT_TRUE(layout) << layout.error().what;
  EXPECT_EQ(layout->preamble, 3);
  EXPECT_EQ(layout->quantities[0], 3);
  EXPECT_EQ(layout->time, std::vector<int>{2});
}

TEST(ALayout, TakesAStatedPreambleAtItsWord) {
  const auto layout = layout_in("time,mV,T,RH,p\ntime,mV,T,RH,p\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n",
                                "[format]\npreamble = 1\n");
  ASSERT_TRUE(layout) << layout.error().what;
  EXPECT_EQ(layout->preamble, 1);
}

TEST(ALayout, TrimsTheNamesAndTakesThemOutOfTheirQuotes) {
  const auto layout = layout_in("\"time\" , mV,T,RH,\"p\"\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n");
  ASSERT_TRUE(layout) << layout.error().what;
  EXPECT_EQ(layout->names, (std::vector<std::string>{"time", "mV", "T", "RH", "p"}));
}

TEST(ALayout, KnowsAHeaderInIso8859) {
  const auto layout = layout_in("time,mV,T \xB0"
                                "C,RH,p\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n",
                                "", "column = \"T\"", "column = \"T °C\"");
  ASSERT_TRUE(layout) << layout.error().what;
  EXPECT_EQ(layout->quantities[1], 2);
}

TEST(ALayout, GoesByNumbersWithoutAHeader) {
  auto recipe = plain_recipe("[format]\nheader = false\n");
  int number = 0;
  for (const char* name : {"\"time\"", "\"mV\"", "\"T\"", "\"RH\"", "\"p\""})
    recipe.replace(recipe.find(std::string{"column = "} + name) + 9, std::string{name}.size(),
                   std::to_string(++number));
  const auto read = logfile::parse_recipe(recipe, "r.toml", "");
  ASSERT_TRUE(read) << problems_of(read);
  const auto layout = find_layout("2026-03-02T06:00:00Z;11,9;12,2;88;93,87\n", "in.csv", read->format,
                                  logfile::wanted_of(*read, logfile::Source::From::column));
  ASSERT_TRUE(layout) << layout.error().what;
  EXPECT_EQ(layout->dialect.delimiter, ';');
  EXPECT_EQ(layout->dialect.decimal, ',');
  EXPECT_EQ(layout->quantities[4], 4);
  EXPECT_FALSE(layout->header);
}

TEST(ALayout, NamesEveryColumnThatIsNotThereAndTheNearest) {
  const auto layout = layout_in("time,mV,Temp,rh,p\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n");
  ASSERT_FALSE(layout);
  const auto& what = layout.error().what;
  EXPECT_NE(what.find("temperature.column: the header of in.csv (line 1) has no column \"T\"; it has "),
            std::string::npos);
  EXPECT_NE(what.find("humidity.column: the header of in.csv (line 1) has no column \"RH\""), std::string::npos)
      << what;
  EXPECT_TRUE(what.starts_with("r.toml:8:10: temperature.column")) << what;
}

TEST(ALayout, RefusesANameThatTwoColumnsHave) {
  const auto layout = layout_in("time,mV,T,RH,p,T\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87,1\n");
  ASSERT_FALSE(layout);
  EXPECT_NE(layout.error().what.find("has \"T\" more than once"), std::string::npos);
}

TEST(ALayout, RefusesANumberBeyondTheRow) {
  const auto layout =
      layout_in("time,mV,T,RH,p\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n", "", "column = \"p\"", "column = 6");
  ASSERT_FALSE(layout);
  EXPECT_NE(layout.error().what.find("there is no column 6: the rows of in.csv have 5 fields"), std::string::npos);
}

TEST(ALayout, CountsTheFieldsOfTheRowsNotOfTheHeader) {
  const auto layout = layout_in("time,mV,T,RH,p\n2026-03-02T06:00:00Z,11.9,12.2,88,93.87,\n");
  ASSERT_TRUE(layout) << layout.error().what;
  EXPECT_EQ(layout->columns, 6U) << "every row ends with a delimiter";
  EXPECT_EQ(layout->width, 6U);
}

TEST(ALayout, OfAnEmptyFileIsRefused) {
  const auto layout = layout_in("");
  ASSERT_FALSE(layout);
  EXPECT_EQ(layout.error().what, "in.csv: is empty");
}

TEST(Iso8859, BecomesUtf8AndUtf8StaysAsItIs) {
  EXPECT_EQ(logfile::as_utf8("\xB0"
                             "C"),
            "°C");
  EXPECT_EQ(logfile::as_utf8("°C"), "°C");
  EXPECT_EQ(logfile::as_utf8("plain"), "plain");
}

} // namespace oxherd::daemon::layout_test
