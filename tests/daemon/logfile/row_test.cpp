#include "daemon/logfile/row.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "tests/daemon/logfile/text_source.hpp"

namespace oxherd::daemon::row_test {

using logfile::Dialect;
using logfile_test::joined;
using logfile_test::rows_of;
using Fields = std::vector<std::string>;

const Dialect commas{};
const Dialect semicolons{.delimiter = ';', .comment = {}};

TEST(ARow, IsDividedAtItsDelimiters) {
  const auto rows = rows_of("a;b;c\n1;;3\n;\n", semicolons);
  ASSERT_EQ(rows.size(), 3U);
  EXPECT_EQ(rows[0].fields, (Fields{"a", "b", "c"}));
  EXPECT_EQ(rows[1].fields, (Fields{"1", "", "3"}));
  EXPECT_EQ(rows[2].fields, (Fields{"", ""}));
}

TEST(ARow, EndsWithLfOrCrlfOrTheFile) {
  const auto rows = rows_of("a,b\r\nc,d\ne,f", commas);
  ASSERT_EQ(rows.size(), 3U);
  EXPECT_EQ(rows[0].fields, (Fields{"a", "b"}));
  EXPECT_EQ(rows[0].line_end, "\r\n");
  EXPECT_EQ(rows[1].line_end, "\n");
  EXPECT_EQ(rows[2].line_end, "");
  EXPECT_EQ(rows[2].fields, (Fields{"e", "f"}));
}

TEST(ARow, KeepsACarriageReturnThatEndsNoLine) {
  const auto rows = rows_of("a\rb,c\r", commas);
  ASSERT_EQ(rows.size(), 1U);
  EXPECT_EQ(rows[0].fields, (Fields{"a\rb", "c\r"}));
}

// RFC 4180, section 2, rules 5 to 7.
TEST(AQuotedField, MayHoldDelimitersQuotesAndLineBreaks) {
  const auto rows = rows_of("\"a,\"\"b\"\"\",\"c\r\nd\",e\r\n1,2,3\n", commas);
  ASSERT_EQ(rows.size(), 2U);
  EXPECT_EQ(rows[0].fields, (Fields{"\"a,\"\"b\"\"\"", "\"c\r\nd\"", "e"}));
  EXPECT_EQ(rows[0].line, 1U);
  EXPECT_EQ(rows[1].line, 3U) << "the line break inside quotes counts as a line";
  std::string scratch;
  EXPECT_EQ(logfile::content_of(rows[0].fields[0], commas, scratch), "a,\"b\"");
  EXPECT_FALSE(rows[0].open_quote);
}

TEST(AQuotedField, MayEndTheFile) {
  const auto rows = rows_of("1,\"2\"", commas);
  ASSERT_EQ(rows.size(), 1U);
  EXPECT_EQ(rows[0].fields, (Fields{"1", "\"2\""}));
  EXPECT_FALSE(rows[0].open_quote);
}

TEST(AQuote, InTheMiddleOfAFieldIsACharacter) {
  const auto rows = rows_of("5\" pipe,1\n2,3\n", commas);
  ASSERT_EQ(rows.size(), 2U);
  EXPECT_EQ(rows[0].fields, (Fields{"5\" pipe", "1"}));
  EXPECT_FALSE(rows[0].open_quote);
}

TEST(AQuote, ThatIsNeverClosedCostsItsOwnLineOnly) {
  const auto rows = rows_of("1,\"2\n3,4\n5,6\n", commas);
  ASSERT_EQ(rows.size(), 3U);
  EXPECT_TRUE(rows[0].open_quote);
  EXPECT_EQ(rows[0].fields, (Fields{"1", "\"2"}));
  EXPECT_EQ(rows[1].fields, (Fields{"3", "4"}));
  EXPECT_FALSE(rows[1].open_quote);
  EXPECT_EQ(rows[2].line, 3U);
}

TEST(AQuote, ThatClosesBeforeOtherTextCostsItsOwnLineOnly) {
  const auto rows = rows_of("\"1,2\n\"3\"x,4\n5,6\n", commas);
  ASSERT_EQ(rows.size(), 3U);
  EXPECT_TRUE(rows[0].open_quote);
  EXPECT_TRUE(rows[1].open_quote);
  EXPECT_EQ(rows[2].fields, (Fields{"5", "6"}));
}

TEST(AQuote, ThatNoBufferSeesClosedCostsItsOwnLineOnly) {
  std::string text = "1,\"2\n";
  for (int i = 0; i < 100; ++i) text += "3,4\n";
  const auto rows = rows_of(text, commas, 64);
  ASSERT_EQ(rows.size(), 101U);
  EXPECT_TRUE(rows[0].open_quote);
  EXPECT_EQ(std::count_if(rows.begin(), rows.end(), [](const auto& row) { return row.open_quote; }), 1);
  EXPECT_EQ(rows.back().line, 101U);
}

TEST(Quotes, CanBeSwitchedOff) {
  const auto rows = rows_of("\"a,b\"\n", Dialect{.quote = 0, .comment = {}});
  ASSERT_EQ(rows.size(), 1U);
  EXPECT_EQ(rows[0].fields, (Fields{"\"a", "b\""}));
}

TEST(Blanks, DivideInRuns) {
  const auto rows = rows_of("  1  2\t3 \n4 \"5 6\"\n", Dialect{.delimiter = ' ', .blanks = true, .comment = {}});
  ASSERT_EQ(rows.size(), 2U);
  EXPECT_EQ(rows[0].fields, (Fields{"1", "2", "3"}));
  EXPECT_EQ(rows[1].fields, (Fields{"4", "\"5 6\""}));
}

TEST(ARowLongerThanTheBuffer, ComesInPiecesAndIsMarked) {
  const std::string long_row(1000, 'x');
  const std::string text = "1,2\n" + long_row + "\r\n3,4\n";
  const auto rows = rows_of(text, commas, 64);
  EXPECT_EQ(joined(rows), text);
  EXPECT_EQ(rows.front().fields, (Fields{"1", "2"}));
  EXPECT_EQ(rows.back().fields, (Fields{"3", "4"}));
  EXPECT_EQ(rows.back().line, 3U);
  int ends = 0;
  for (const auto& row : rows)
    if (row.too_long && !row.unfinished) {
      ++ends;
      EXPECT_EQ(row.line, 2U);
      EXPECT_EQ(row.line_end, "\r\n");
    }
  EXPECT_EQ(ends, 1);
}

TEST(ARowLongerThanTheBuffer, EndsWithTheFileToo) {
  for (const std::size_t length : {63U, 64U, 65U, 128U, 200U}) {
    SCOPED_TRACE(length);
    const auto rows = rows_of(std::string(length, 'x'), commas, 64);
    EXPECT_EQ(joined(rows), std::string(length, 'x'));
    ASSERT_FALSE(rows.empty());
    EXPECT_FALSE(rows.back().unfinished);
  }
}

/// Texts of the characters that matter to a row.
rc::Gen<std::string> row_text() {
  return rc::gen::container<std::string>(rc::gen::element(',', '"', '\n', '\r', ' ', '1', ';'));
}

RC_GTEST_PROP(AnyText, SurvivesTheDivisionByteForByte, ()) {
  const auto text = *row_text();
  RC_ASSERT(joined(rows_of(text, commas)) == text);
}

RC_GTEST_PROP(AnyText, IsDividedAlikeInWhateverPiecesItArrives, ()) {
  const auto text = *row_text();
  const auto piece = *rc::gen::inRange<std::size_t>(1, 8);
  const auto whole = rows_of(text, commas);
  const auto pieces = rows_of(text, commas, logfile::RowReader::buffer_bytes, piece);
  RC_ASSERT(whole.size() == pieces.size());
  for (std::size_t i = 0; i < whole.size(); ++i) {
    RC_ASSERT(whole[i].fields == pieces[i].fields);
    RC_ASSERT(whole[i].line == pieces[i].line);
  }
}

RC_GTEST_PROP(AnyText, SurvivesASmallBufferByteForByte, ()) {
  const auto text = *row_text();
  RC_ASSERT(joined(rows_of(text, commas, 8)) == text);
}

// Sixteen bytes are looked at in one step: delimiters and line ends stand at every place of them.
RC_GTEST_PROP(ARowWithoutQuotes, IsDividedAtEveryDelimiterWhereverItStands, ()) {
  const auto text =
      *rc::gen::container<std::string>(rc::gen::element(',', '\n', 'a', '7', '.', ' ', '\xFC', '\x8A', '\xAC', '\0'));
  std::vector<Fields> expected{{""}};
  for (const char c : text)
    if (c == '\n')
      expected.push_back({""});
    else if (c == ',')
      expected.back().emplace_back();
    else
      expected.back().back() += c;
  if (expected.back() == Fields{""}) expected.pop_back(); // nothing stands behind the last line end
  std::vector<Fields> found;
  for (const auto& row : rows_of(text, commas, 4096)) found.push_back(row.fields);
  RC_ASSERT(found == expected);
}

RC_GTEST_PROP(AnyFields, ComeBackFromTheirQuotedForm, ()) {
  const auto fields = *rc::gen::nonEmpty(
      rc::gen::container<Fields>(rc::gen::container<std::string>(rc::gen::element(',', '"', '\n', 'a', 'b'))));
  std::string text;
  for (const auto& field : fields) {
    text += text.empty() ? "\"" : ",\"";
    for (const char c : field) text += c == '"' ? std::string{"\"\""} : std::string{c};
    text += '"';
  }
  const auto rows = rows_of(text + "\n", commas);
  RC_ASSERT(rows.size() == 1U);
  RC_ASSERT(!rows[0].open_quote);
  RC_ASSERT(rows[0].fields.size() == fields.size());
  std::string scratch;
  for (std::size_t i = 0; i < fields.size(); ++i)
    RC_ASSERT(logfile::content_of(rows[0].fields[i], commas, scratch) == fields[i]);
}

} // namespace oxherd::daemon::row_test
