#include <filesystem>

#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/cli/progress_line.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"
#include "tests/daemon/logfile/logfile_fixture.hpp"

namespace oxherd::daemon::correct_command_test {

using cli_test::run_words;
using logfile_test::plain_header;
using logfile_test::plain_recipe;
using logfile_test::plain_row;
using logfile_test::text_of_file;

/// Input, recipe and a place for the output.
struct Desk {
  cli_test::TemporaryDirectory directory;
  std::string in, recipe, out;
  explicit Desk(const std::string& rows = plain_row)
      : in{directory.file("in.csv", plain_header + rows)}, recipe{directory.file("r.toml", plain_recipe())},
        out{(directory.path() / "out.csv").string()} {}
  cli_test::Outcome correct(std::vector<std::string> more = {}) const {
    std::vector<std::string> words{"correct", in, "-o", out, "--recipe", recipe};
    words.insert(words.end(), more.begin(), more.end());
    return run_words(words);
  }
};

TEST(Correct, WritesTheFileAndItsRecordAndSaysSoWithTheCaution) {
  const Desk desk;
  const auto got = desk.correct();
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_EQ(got.out, "");
  EXPECT_NE(got.err.find("in.csv: 1 row: 1 corrected, 0 uncertain, 0 bad\n"), std::string::npos) << got.err;
  EXPECT_NE(got.err.find("oxygen: 20.407 % (line 2) to 20.407 % (line 2)"), std::string::npos) << got.err;
  EXPECT_NE(got.err.find("Supplementary monitor."), std::string::npos);
  EXPECT_EQ(text_of_file(desk.out).substr(0, 5), "time,");
  EXPECT_TRUE(nlohmann::json::parse(text_of_file(desk.out + ".record.json"), nullptr, false).is_object());
}

TEST(Correct, GivesTheSummaryAsJson) {
  const Desk desk{"2026-03-02T06:00:00Z,x,12.2,88,93.87\n" + std::string{plain_row}};
  const auto got = desk.correct({"--json"});
  EXPECT_EQ(got.code, cli::marked);
  EXPECT_EQ(got.err, "");
  const auto summary = nlohmann::json::parse(got.out);
  EXPECT_EQ(summary["rows"], 2);
  EXPECT_EQ(summary["bad"], 1);
  EXPECT_EQ(summary["causes"][0]["cause"], "signal is not a number");
  EXPECT_EQ(summary["causes"][0]["first_line"], 2);
  EXPECT_EQ(summary["times_not_increasing"], 1);
  EXPECT_EQ(summary["caution"], std::string{alarms::caution_short()});
}

TEST(Correct, GivesAnotherExitCodeForMarkedRows) {
  const Desk desk{"2026-03-02T06:00:00Z,,12.2,88,93.87\n"};
  const auto got = desk.correct();
  EXPECT_EQ(got.code, 5);
  EXPECT_NE(got.err.find("  signal is missing: 1 row, first in line 2\n"), std::string::npos) << got.err;
}

TEST(Correct, ListsEveryProblemOfTheRecipe) {
  const Desk desk;
  const auto recipe = desk.directory.file("r.toml", "[signal]\ncolumn = 0\nunit = \"kPa\"\n");
  const auto got = desk.correct();
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_NE(got.err.find("r.toml:2:10: signal.column: "), std::string::npos) << got.err;
  EXPECT_NE(got.err.find("r.toml:3:8: signal.unit: "), std::string::npos) << got.err;
  EXPECT_FALSE(std::filesystem::exists(desk.out));
}

TEST(Correct, SaysWhatIsMissingOnTheCommandLine) {
  EXPECT_EQ(run_words({"correct"}).err, "oxherd correct: name one file to correct; --help shows the form\n");
  EXPECT_EQ(run_words({"correct", "a.csv"}).err,
            "oxherd correct: -o is missing: name the file that is to be written\n");
  const auto got = run_words({"correct", "a.csv", "-o", "b.csv"});
  EXPECT_EQ(got.code, cli::usage);
  EXPECT_EQ(got.err,
            "oxherd correct: --recipe is missing: it says what the columns mean; --draft prints one to begin with\n");
}

TEST(Correct, FailsForAFileThatIsNotThere) {
  const Desk desk;
  std::filesystem::remove(desk.in);
  const auto got = desk.correct();
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_EQ(got.err, "oxherd correct: " + desk.in + ": cannot be read: No such file or directory\n");
}

TEST(Correct, ReplacesNothingWithoutForce) {
  const Desk desk;
  EXPECT_EQ(desk.correct().code, cli::fine);
  const auto again = desk.correct();
  EXPECT_EQ(again.code, cli::failed);
  EXPECT_NE(again.err.find("exists already; --force replaces it"), std::string::npos);
  EXPECT_EQ(desk.correct({"--force"}).code, cli::fine);
}

TEST(Correct, TakesTheExampleOfItsHelp) {
  const cli_test::TemporaryDirectory directory;
  const std::string demo = std::string{OXHERD_SOURCE_DIR} + "/demo/";
  const auto got = run_words({"correct", demo + "growth-chamber-1.csv", "-o", (directory.path() / "out.csv").string(),
                              "--recipe", demo + "growth-chamber-1.recipe.toml", "--json"});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  const auto summary = nlohmann::json::parse(got.out);
  EXPECT_EQ(summary["rows"], 36);
  EXPECT_EQ(summary["uncertain"], 1);
  EXPECT_EQ(summary["second_file"]["rows"], 11);
}

TEST(CorrectWithDraft, PrintsARecipeAndWritesNothing) {
  const Desk desk;
  const auto got = run_words({"correct", desk.in, "--draft"});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_EQ(got.err, "");
  EXPECT_TRUE(got.out.starts_with("# A recipe to begin with, from ")) << got.out;
  EXPECT_NE(got.out.find("\n[signal]\ncolumn = \"mV\" # "), std::string::npos) << got.out;
  EXPECT_FALSE(std::filesystem::exists(desk.out));
}

TEST(CorrectWithDraft, RefusesWhatBelongsToACorrection) {
  const Desk desk;
  const auto got = desk.correct({"--draft"});
  EXPECT_EQ(got.code, cli::usage);
  EXPECT_NE(got.err.find("leave out -o\n"), std::string::npos) << got.err;
}

TEST(CorrectWithDraft, FailsForAFileThatIsNoTable) {
  const Desk desk;
  const auto got = run_words({"correct", desk.directory.file("words.txt", "no table\n"), "--draft"});
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_NE(got.err.find("words.txt: no table was found in it"), std::string::npos) << got.err;
}

TEST(TheProgressLine, TellsShareRateAndTimeLeft) {
  EXPECT_EQ(cli::progress_text(250'000'000, 1'000'000'000, 2.0),
            "[######..................] 25 %, 250 of 1000 MB, 125 MB/s, 6 s left");
  EXPECT_EQ(cli::progress_text(250'000'000, std::nullopt, 2.0), "250 MB, 125 MB/s") << "a pipe has no known end";
  EXPECT_EQ(cli::progress_text(0, 1'000'000, 0.0), "[........................] 0 %, 0 of 1 MB, 0 MB/s, 0 s left");
}

TEST(TheProgressLine, IsNotDrawnWhereThereIsNoTerminal) {
  std::ostringstream out;
  cli::ProgressLine line{out, false};
  line.show(1, 2);
  line.clear();
  EXPECT_EQ(out.str(), "");
}

} // namespace oxherd::daemon::correct_command_test
