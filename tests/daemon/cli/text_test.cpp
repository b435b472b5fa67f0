#include "daemon/cli/text.hpp"

#include <limits>

#include <gtest/gtest.h>

#include "daemon/cli/table.hpp"

namespace oxherd::daemon::text_test {

using namespace cli;

TEST(Printable, TakesTheTeethOutOfTerminalEscapes) {
  EXPECT_EQ(printable("a\x1b[31mb"), "a\xEF\xBF\xBD[31mb");
  EXPECT_EQ(printable("a\x7F"), "a\xEF\xBF\xBD");
  EXPECT_EQ(printable("\xC2\x9B"
                      "31m"),
            "\xEF\xBF\xBD"
            "31m"); // U+009B starts a control sequence too
  EXPECT_EQ(printable("a\xE2\x80\xAE"
                      "b"),
            "a\xEF\xBF\xBD"
            "b"); // right-to-left override
}

TEST(Printable, TurnsLineBreaksIntoBlanks) { EXPECT_EQ(printable("a\r\nb\tc"), "a  b c"); }

TEST(Printable, LeavesOrdinaryTextAlone) {
  const std::string text = "21.0 °C ± 0.3 K, O₂ 20.9 %, 😀";
  EXPECT_EQ(printable(text), text);
}

TEST(Printable, ReplacesWhatIsNotUtf8) {
  // Markus Kuhn's decoder stress test: overlong forms, surrogates, beyond U+10FFFF, a lone continuation, a cut
  // sequence.
  for (const std::string broken :
       {"\xC0\xAF", "\xE0\x80\xAF", "\xED\xA0\x80", "\xF4\x90\x80\x80", "\x80", "\xE2\x82"}) {
    const auto shown = printable(broken);
    EXPECT_EQ(shown.find(broken), std::string::npos);
    EXPECT_EQ(shown.substr(0, 3), "\xEF\xBF\xBD");
  }
}

TEST(Width, CountsCodePointsNotBytes) {
  EXPECT_EQ(width_of("21 °C"), 5U);
  EXPECT_EQ(width_of("± 0.3"), 5U);
  EXPECT_EQ(width_of(""), 0U);
}

TEST(Wrapped, BreaksAtBlanksAndIndentsTheRest) {
  EXPECT_EQ(wrapped("leave now stay out", 10, 2), "leave\n  now stay\n  out");
  EXPECT_EQ(wrapped("unbreakable", 4, 0), "unbreakable");
  EXPECT_EQ(wrapped("", 10, 0), "");
}

TEST(Width, CountsNoColours) { EXPECT_EQ(width_of("a \x1b[1;31mred\x1b[0m µ"), 7U); }

TEST(Folded, BreaksAtBlanksAndLeavesColumnsWhereTheyAre) {
  EXPECT_EQ(folded("cell  oxygen  20.41 %", 40), "cell  oxygen  20.41 %");
  EXPECT_EQ(folded("  cell  oxygen  20.41 %", 16), "  cell  oxygen\n    20.41 %");
  EXPECT_EQ(folded("a µµµ b", 5), "a µµµ\n b");
}

TEST(Folded, BreaksAWordThatIsLongerThanALine) {
  EXPECT_EQ(folded("abcdefghij", 6), "abcdef\n  ghij");
  EXPECT_EQ(folded("  abcdefghij", 1), "  ab\ncdef\nghij") << "four columns at least";
}

TEST(Folded, TakesNoColumnForColours) {
  EXPECT_EQ(folded("\x1b[1;31mNOT MONITORED\x1b[0m", 13), "\x1b[1;31mNOT MONITORED\x1b[0m");
  EXPECT_EQ(folded("\x1b[1;31mNOT MONITORED\x1b[0m", 9), "\x1b[1;31mNOT\n  MONITOR\n  ED\x1b[0m");
}

TEST(Duration, ReadsAsAPersonWouldSayIt) {
  EXPECT_EQ(duration_text(0.0), "0 s");
  EXPECT_EQ(duration_text(1.24), "1.2 s");
  EXPECT_EQ(duration_text(24.5), "24.5 s");
  EXPECT_EQ(duration_text(59.99), "1 min");
  EXPECT_EQ(duration_text(250.0), "4 min 10 s");
  EXPECT_EQ(duration_text(7500.0), "2 h 5 min");
  EXPECT_EQ(duration_text(100.0 * 3600.0), "4 d 4 h");
}

TEST(Duration, IsNeverNegativeNorEndless) {
  EXPECT_EQ(duration_text(-5.0), "0 s");
  EXPECT_EQ(duration_text(std::numeric_limits<double>::infinity()), "unknown");
  EXPECT_EQ(duration_text(std::numeric_limits<double>::quiet_NaN()), "unknown");
  EXPECT_FALSE(duration_text(1e300).empty());
}

TEST(QuantityText, GivesThePersonsUnit) {
  EXPECT_EQ(quantity_text(0.195, "/", false), "19.50 %");
  EXPECT_EQ(quantity_text(0.005, "/", true), "5000 ppm");
  EXPECT_EQ(quantity_text(16000.0, "Pa", false), "16.00 kPa");
  EXPECT_EQ(quantity_text(std::nullopt, "/", false), "-");
}

TEST(Counted, HasItsPlural) {
  EXPECT_EQ(counted(0, "room"), "0 rooms");
  EXPECT_EQ(counted(1, "room"), "1 room");
  EXPECT_EQ(counted(2, "room"), "2 rooms");
}

TEST(Tables, AlignColumnsByWhatIsSeen) {
  Table table{2};
  table.add({"temperature", "21 °C", "ok"});
  table.add({"p", "99.8 kPa", "ok"});
  EXPECT_EQ(table.text(), "  temperature  21 °C     ok\n  p            99.8 kPa  ok\n");
}

TEST(Tables, LeaveNoBlanksAtLineEnds) {
  Table table;
  table.add({"a", "", ""});
  table.add({"bbb"});
  table.add({"", "c"});
  EXPECT_EQ(table.text(), "a\nbbb\n     c\n");
  EXPECT_EQ(Table{}.text(), "");
}

} // namespace oxherd::daemon::text_test
