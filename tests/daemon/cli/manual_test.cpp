#include "daemon/cli/manual.hpp"

#include <algorithm>

#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::manual_test {

TEST(RoffText, IsNeverAnInstruction) {
  EXPECT_EQ(cli::roff_text(".TH"), "\\&.TH");
  EXPECT_EQ(cli::roff_text("see ./state"), "see \\&./state") << "a line may be broken before it";
  EXPECT_EQ(cli::roff_text("'br"), "\\(aqbr");
  EXPECT_EQ(cli::roff_text("a\\fBb"), "a\\(rsfBb");
}

TEST(RoffText, KeepsWhatIsToBeCopied) {
  EXPECT_EQ(cli::roff_text("--by `x` ~/a ^"), "\\-\\-by \\(gax\\(ga \\(ti/a \\(ha");
}

TEST(RoffText, NamesLettersOutsideAsciiByTheirNumber) {
  EXPECT_EQ(cli::roff_text("21 °C ± 1 €"), "21 \\[u00B0]C \\[u00B1] 1 \\[u20AC]");
}

TEST(TheManualPage, IsPrintedInAsciiAlone) {
  const auto got = cli_test::run_words({"manual"});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_EQ(got.out, cli::manual_page());
  EXPECT_TRUE(std::ranges::all_of(got.out, [](char c) { return c == '\n' || (c >= 0x20 && c < 0x7F); }));
}

} // namespace oxherd::daemon::manual_test
