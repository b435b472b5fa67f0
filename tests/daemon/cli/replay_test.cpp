// The command over a real store: readings of the real pipeline, a calibration that is entered late.
#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/progress_line.hpp"
#include "daemon/time_text.hpp"
#include "tests/daemon/cli/recorded_fixture.hpp"

namespace oxherd::daemon::replay_command_test {

using cli_test::Outcome;
using cli_test::RecordedAnnexe;
using cli_test::run_words;
using nlohmann::json;

constexpr double span_before_mV = 12.6, span_late_mV = 12.9, zero_mV = 0.4;

/// Ten readings that rest on the configuration, then the late record of another span signal.
void prepare(RecordedAnnexe& plant) {
  plant.run(10);
  plant.record(plant.late_adjustment(span_late_mV));
}

Outcome replay(const RecordedAnnexe& plant, std::vector<std::string> more) {
  auto words = plant.command({"replay", "cryo-annexe/cell-a"});
  words.insert(words.end(), more.begin(), more.end());
  return run_words(words);
}

const std::vector<std::string> signed_by{"--by", "R. Finch", "--reason", "certificate arrived late"};

std::vector<std::string> with(std::vector<std::string> words, std::vector<std::string> more) {
  words.insert(words.end(), more.begin(), more.end());
  return words;
}

void expect_parts(const std::string& text, const std::vector<std::string_view>& parts) {
  for (const auto part : parts) EXPECT_NE(text.find(part), std::string::npos) << part << "\n" << text;
}

RecordedOxygen last_of(const RecordedAnnexe& plant) {
  return oxygen_at(plant.state.path(), "cryo-annexe", "cell-a", plant.readings.back().at).value().value();
}

// A cell that is linear in oxygen reads in proportion to 1 / (span signal - zero): 12.2 mV before, 12.5 mV after.
TEST(ReplayCommand, FormsReadingsAnewWithTheCalibrationThatWasEnteredLate) {
  RecordedAnnexe plant;
  prepare(plant);
  const auto count = plant.readings.size();
  const auto got = replay(plant, signed_by);
  EXPECT_EQ(got.code, cli::fine) << got.err;
  const double before = plant.readings.back().oxygen->dry.si();
  const double after = before * (span_before_mV - zero_mV) / (span_late_mV - zero_mV);
  expect_parts(got.out, {"Formed anew: cryo-annexe/cell-a\n", fmt::format("examined        {} readings", count),
                         fmt::format("changed         {} readings", count),
                         fmt::format("largest change  {:.4f} % oxygen", (before - after) * 100.0),
                         "derivation      1\n", "oxherd history readings --room cryo-annexe --sensor cell-a",
                         "oxherd explain --room cryo-annexe --sensor cell-a", "Supplementary monitor."});
  const auto recorded = last_of(plant);
  ASSERT_TRUE(recorded.later);
  EXPECT_NEAR(*recorded.later->outputs.oxygen, after, 1e-12);
  EXPECT_EQ(*recorded.outputs.oxygen, before);
  EXPECT_EQ(recorded.later->by.author, "R. Finch");
  EXPECT_EQ(recorded.later->by.reason, "certificate arrived late");
  EXPECT_EQ(recorded.later->basis->calibration->number, 1);
  const auto again = replay(plant, signed_by);
  expect_parts(again.out, {"changed         0 readings", "every reading rests on the calibration in force already"});
}

TEST(ReplayCommand, TriedDryCountsTheSameAndWritesNothing) {
  RecordedAnnexe plant;
  prepare(plant);
  const auto tried = replay(plant, {"--dry-run"}); // nobody needs to sign for it
  EXPECT_EQ(tried.code, cli::fine) << tried.err;
  expect_parts(tried.out, {"Tried only, nothing was written", fmt::format("would change    {}", plant.readings.size()),
                           "Without --dry-run the new values stand beside the recorded ones"});
  EXPECT_EQ(tried.out.find("derivation"), std::string::npos);
  EXPECT_FALSE(last_of(plant).later);
}

TEST(ReplayCommand, TakesOnlyTheTimeThatIsAsked) {
  RecordedAnnexe plant;
  prepare(plant);
  const auto from = plant.readings[2].at, to = plant.readings[4].at;
  const auto got = replay(plant, with(signed_by, {"--from", rfc3339(from), "--to", rfc3339(to), "--json"}));
  const auto answer = json::parse(got.out, nullptr, false);
  ASSERT_TRUE(answer.is_object()) << got.out << got.err;
  const auto inside = std::ranges::count_if(plant.readings, [&](const auto& r) { return r.at >= from && r.at <= to; });
  EXPECT_EQ(answer["examined"], inside);
  EXPECT_EQ(answer["changed"], inside);
  EXPECT_EQ(answer["unexplained"], 0);
  EXPECT_EQ(answer["derivation"], 1);
  EXPECT_EQ(answer["interrupted"], false);
  EXPECT_EQ(answer["from"], rfc3339(from));
  EXPECT_FALSE(last_of(plant).later);
}

TEST(ReplayCommand, SaysWhenReadingsDoNotFollowFromWhatTheyRestedOn) {
  RecordedAnnexe plant;
  prepare(plant);
  {
    auto file = store::Database::open(plant.state.path() / "measurements.sqlite", store::Database::Mode::create);
    ASSERT_TRUE(file);
    ASSERT_TRUE(file->run("UPDATE reading SET oxygen = oxygen + 1e-15 WHERE oxygen IS NOT NULL"));
  }
  const auto got = replay(plant, {"--dry-run"});
  expect_parts(got.out, {fmt::format("unexplained     {} readings", plant.readings.size()),
                         "another version of oxherd computed them"});
}

TEST(ReplayCommand, ShowsInExplanationAndHistoryWhatItDid) {
  RecordedAnnexe plant;
  prepare(plant);
  const auto at = rfc3339(plant.readings.back().at);
  const std::vector<std::string> history{"history", "--from", rfc3339(plant.readings.front().at), "--to", at};
  const auto untouched = run_words(plant.command(history));
  EXPECT_EQ(untouched.out.find("re-derived"), std::string::npos);
  ASSERT_EQ(replay(plant, signed_by).code, cli::fine);

  const auto explained =
      run_words(plant.command({"explain", "--room", "cryo-annexe", "--sensor", "cell-a", "--at", at}));
  EXPECT_EQ(explained.code, cli::fine) << explained.err;
  expect_parts(explained.out,
               {"RE-DERIVED: derivation 1 of ", " by R. Finch: certificate arrived late", "recorded first  20.710 %",
                "stands now      20.213 %", "calibration    record 1\n", "used at first  from the configuration",
                "6 d 23 h before the reading", "12.9 mV", "as derivation 1 computed it: every digit agrees",
                "what was recorded first, with its own calibration: every digit agrees"});

  const auto now = run_words(plant.command(history));
  expect_parts(now.out, {"20.21 ", "  re-derived 1\n", "re-derived: `oxherd explain` shows who"});
  const auto first = run_words(plant.command(with(history, {"--as-recorded"})));
  expect_parts(first.out, {"20.71 ", "superseded by 1"});
  EXPECT_EQ(first.out.find("20.21 "), std::string::npos);
}

TEST(ReplayCommand, RefusesAWrongCommandLine) {
  struct Row {
    std::vector<std::string> words;
    std::string message;
  };
  const std::vector<Row> table{
      {{}, "name one sensor as ROOM/SENSOR, such as cryo-annexe/cell-a"},
      {{"cryo-annexe"}, "\"cryo-annexe\" is not a sensor; write ROOM/SENSOR, such as cryo-annexe/cell-a"},
      {{"a/b/c"}, "\"a/b/c\" is not a sensor; write ROOM/SENSOR, such as cryo-annexe/cell-a"},
      {{"a/"}, "\"a/\" is not a sensor; write ROOM/SENSOR, such as cryo-annexe/cell-a"},
      {{"a/b", "--reason", "x"},
       "--by is missing: who decided that these readings are formed anew? It is recorded with them"},
      {{"a/b", "--by", "R. Finch"},
       "--reason is missing: why are these readings formed anew? It is recorded with them"},
      {{"a/b", "--by", "R. Finch", "--reason", "  "},
       "--reason is missing: why are these readings formed anew? It is recorded with them"},
      {{"a/b", "--dry-run", "--last", "2h", "--from", "2026-03-01T08:00:00Z"}, "--last and --from exclude each other"},
      {{"a/b", "--dry-run", "--last", "-2h"}, "--last: write a duration such as \"2h\""}};
  for (const auto& row : table) {
    auto words = row.words;
    words.insert(words.begin(), "replay");
    const auto got = run_words(words);
    EXPECT_EQ(got.code, cli::usage) << row.message;
    EXPECT_EQ(got.err, "oxherd replay: " + row.message + '\n');
  }
}

TEST(ReplayCommand, SaysWhereThereIsNothingToForm) {
  RecordedAnnexe plant;
  prepare(plant);
  const auto none = run_words(plant.command({"replay", "cryo-annexe/cell-x", "--dry-run"}));
  EXPECT_EQ(none.code, cli::fine);
  expect_parts(none.out, {"examined        0 readings", "No oxygen reading of that sensor is recorded in that time"});
  const cli_test::TemporaryDirectory empty;
  const auto lost = run_words({"replay", "a/b", "--dry-run", "--state-dir", empty.path().string()});
  EXPECT_EQ(lost.code, cli::failed);
  expect_parts(lost.err, {"no records here"});
}

TEST(PartOfTheWork, IsShownWithTheTimeThatIsLeft) {
  EXPECT_EQ(cli::part_text(120'000, 0.25, 2.0), "[######..................] 25 %, 120000 readings, 6 s left");
  EXPECT_EQ(cli::part_text(0, 0.0, 2.0), "[........................] 0 %, 0 readings");
}

} // namespace oxherd::daemon::replay_command_test
