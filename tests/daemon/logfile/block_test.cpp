// Rows are read in blocks; nothing of that shows in the output.
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include <fmt/format.h>

#include "daemon/logfile/corrector.hpp"
#include "tests/daemon/logfile/logfile_fixture.hpp"
#include "tests/daemon/logfile/text_source.hpp"

namespace oxherd::daemon::block_test {

using logfile_test::plain_header;
using logfile_test::plain_recipe;

constexpr const char* every_column =
    "[format]\ncomment = \"#\"\n[output]\ndecimals = 9\ncolumns = [\"oxygen\", \"u_oxygen\", \"oxygen_wet\", "
    "\"u_oxygen_wet\", \"po2\", \"u_po2\", \"sea_level_equivalent\", \"uncorrected\", \"pressure\", "
    "\"vapour_pressure\", \"time\", \"quality\", \"remark\"]\n";

struct Outcome {
  std::string text;
  std::string summary;
};

/// Corrects rows in memory, in blocks or each by itself.
Outcome outcome_of(const logfile::Recipe& recipe, const std::string& rows, bool in_blocks, std::size_t buffer) {
  const auto layout = logfile::find_layout(std::string{plain_header} + logfile_test::plain_row, "in.csv", recipe.format,
                                           logfile::wanted_of(recipe, logfile::Source::From::column));
  Outcome outcome;
  logfile::Summary summary;
  logfile::Corrector corrector{recipe, *layout, nullptr, summary};
  logfile_test::TextSource source{rows};
  logfile::RowReader reader{source, "in.csv", buffer};
  reader.divide_by(layout->dialect);
  logfile::Row row;
  while (reader.next(row).value_or(false)) {
    EXPECT_TRUE(corrector.add(row, outcome.text));
    if (!in_blocks) corrector.flush(outcome.text);
  }
  corrector.flush(outcome.text);
  outcome.summary = logfile::summary_json(summary);
  return outcome;
}

/// Every kind of row that a logger was ever seen to write, and some more, in an order that mixes them.
std::string awkward_rows(int count, int days) {
  const std::vector<std::string> kinds{"11.9,12.2,88,93.87\n",
                                       "11.9,12.2,88,93.87\r\n",
                                       "0.41,12.2,88,93.87\n",   // near zero
                                       "11.9,,88,93.87\n",       // missing
                                       "11.9,12.2,88\n",         // fewer fields
                                       "11.9,12.2,88,93.87,7\n", // more
                                       "\"11.9\",12.2,\"88\",93.87\n",
                                       "\"11.9,12.2,88,93.87\n", // a quote that is not closed
                                       "11.9,99.9,100,21\n",     // more vapour than gas
                                       "11.9,x,88,93.87\n",
                                       "1.19e1,12.2,88,93.87\n",
                                       "-3.5,-39.9,0,199.99\n",
                                       "11.9,12.2,88,938.7\n", // outside its span
                                       "999.9,12.2,88,93.87\n"};
  std::string text;
  for (int i = 0; i < count; ++i) {
    if (i % 41 == 7) text += "# a comment\n";
    if (i % 53 == 9) text += "\n";
    if (i % 97 == 50) text += std::string(500, 'x') + "\n"; // longer than the smallest buffer
    const auto time = fmt::format("2026-03-{:02}T06:{:02}:{:02}Z", 1 + i * days / count, i / 60 % 60, i % 60);
    text += (i % 61 == 3 ? "yesterday" : time) + "," + kinds[static_cast<std::size_t>(i * i + i / 7) % kinds.size()];
  }
  return text + "2026-03-31T06:00:00Z,11.9,12.2,88,93.87"; // no line end
}

void expect_alike(const std::string& recipe_text, const std::string& rows) {
  const auto recipe = logfile::parse_recipe(recipe_text, "r.toml", "");
  ASSERT_TRUE(recipe) << logfile_test::problems_of(recipe);
  for (const std::size_t buffer : {std::size_t{256}, std::size_t{4096}, logfile::RowReader::buffer_bytes}) {
    const auto blocks = outcome_of(*recipe, rows, true, buffer);
    const auto each = outcome_of(*recipe, rows, false, buffer);
    EXPECT_EQ(blocks.text, each.text);
    EXPECT_EQ(blocks.summary, each.summary);
    EXPECT_GT(blocks.text.size(), rows.size());
  }
}

TEST(ABlockOfRows, GivesTheBytesOfRowsOneAtATime) {
  for (const int count : {1, 255, 256, 257, 2000}) expect_alike(plain_recipe(every_column), awkward_rows(count, 1));
}

TEST(ABlockOfRows, EndsWhereTheDriftOfTheCellGrows) {
  const auto text = plain_recipe(every_column);
  const auto dated = [&](const std::string& at) {
    auto copy = text;
    return copy.replace(copy.find("[calibration]\n"), 14, "[calibration]\nat = " + at + "\n");
  };
  expect_alike(dated("2025-03-01T00:00:00Z"), awkward_rows(1000, 30));
  const auto recipe = logfile::parse_recipe(dated("2025-03-01T00:00:00Z"), "r.toml", "");
  ASSERT_TRUE(recipe);
  // The same values a month apart: the second is less certain.
  const std::string values = "T06:00:00Z,11.9,12.2,88,93.87\n";
  const auto done = outcome_of(*recipe, "2026-03-01" + values + "2026-03-31" + values, true, 4096).text;
  const auto second = done.find("2026-03-31T");
  const auto of_row = [&](std::size_t at) {
    return logfile_test::fields_of(done.substr(at, done.find('\n', at) - at));
  };
  EXPECT_EQ(of_row(0)[5], of_row(second)[5]);
  EXPECT_LT(of_row(0)[6], of_row(second)[6]);
}

TEST(ABlockOfRows, KeepsTheUncertaintyOfWhatStandsIn) {
  const auto recipe = plain_recipe(every_column);
  auto assumed = recipe;
  const std::string_view key = "column = \"RH\"\nunit = \"%\"\n";
  assumed.insert(assumed.find(key) + key.size(), "otherwise = \"65 %\"\nu_otherwise = \"10 %\"\n");
  expect_alike(assumed, awkward_rows(700, 1) + "\n2026-03-31T06:00:01Z,11.9,12.2,,93.87\n"
                                               "2026-03-31T06:00:02Z,11.9,12.2,65,93.87\n");
}

RC_GTEST_PROP(ABlockOfRows, GivesTheBytesOfRowsOneAtATimeWhateverTheyHold, ()) {
  static const auto recipe = logfile::parse_recipe(plain_recipe(every_column), "r.toml", "");
  const auto pieces = *rc::gen::container<std::vector<std::string>>(rc::gen::element<std::string>(
      "2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n", "2026-03-02T06:00:00Z,", "11.9", "12.2", ",", ",", "\n", "\r\n",
      "\"", "#", " ", "\xFC", "-", "2026-03-03T06:00:00Z,11.8,12.2,88,93.87\n"));
  std::string text;
  for (const auto& piece : pieces) text += piece;
  const auto blocks = outcome_of(*recipe, text, true, 4096);
  const auto each = outcome_of(*recipe, text, false, 4096);
  RC_ASSERT(blocks.text == each.text);
  RC_ASSERT(blocks.summary == each.summary);
}

} // namespace oxherd::daemon::block_test
