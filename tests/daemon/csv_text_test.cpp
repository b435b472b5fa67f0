#include "daemon/csv_text.hpp"

#include <gtest/gtest.h>

namespace oxherd::daemon {
namespace {

TEST(CsvText, AnOrdinaryTextStandsAsItIs) {
  EXPECT_EQ(csv_field(""), "");
  EXPECT_EQ(csv_field("cryo-annexe"), "cryo-annexe");
  EXPECT_EQ(csv_field("2026-11-27T19:00:00.000Z"), "2026-11-27T19:00:00.000Z");
  EXPECT_EQ(csv_field("a = b"), "a = b");
}

TEST(CsvText, CommasQuotesAndLineBreaksAreQuotedAsRfc4180Has) {
  EXPECT_EQ(csv_field("a,b"), "\"a,b\"");
  EXPECT_EQ(csv_field("b\"bb"), "\"b\"\"bb\""); // RFC 4180, 2.7
  EXPECT_EQ(csv_field("one\r\ntwo"), "\"one\r\ntwo\"");
}

TEST(CsvText, NoTextOfAPersonBecomesAFormulaInASpreadsheet) {
  for (const char first : {'=', '+', '-', '@', '\t'}) {
    const std::string text = first + std::string{"1+1"};
    EXPECT_EQ(csv_field(text), "'" + text);
  }
  EXPECT_EQ(csv_field("\rx"), "\"'\rx\"");
  EXPECT_EQ(csv_field("=HYPERLINK(\"http://x\",\"y\")"), "\"'=HYPERLINK(\"\"http://x\"\",\"\"y\"\")\"");
}

} // namespace
} // namespace oxherd::daemon
