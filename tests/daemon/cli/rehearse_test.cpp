// The command as a person types it: options, messages, exit codes, and each of its outputs.
#include <cstdlib>
#include <ctime>
#include <fstream>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/time_text.hpp"
#include "tests/daemon/cli/recorded_fixture.hpp"

namespace oxherd::daemon::rehearse_cli_test {

using cli_test::run_words;
using nlohmann::json;

const std::string rules_text = "[site]\nname = \"larkfield\"\nelevation = \"212 m\"\n"
                               "[room.cryo-annexe]\nregime = \"occupied\"\n"
                               "[room.cryo-annexe.alarm.low-oxygen]\nquantity = \"oxygen\"\nbelow = \"19.5 %\"\n"
                               "on_delay = \"3 s\"\noff_delay = \"10 s\"\n";

/// A second apart: low from the tenth on.
std::string leak_text() {
  std::string text = "time,oxygen [%],u oxygen [%]\n";
  for (int i = 0; i < 60; ++i) text += fmt::format("2026-03-02T06:00:{:02}Z,{},0.05\n", i, i < 10 ? 20.8 : 19.3);
  return text;
}

class RehearseCommand : public testing::Test {
protected:
  cli_test::TemporaryDirectory directory_;
  std::string rules_ = directory_.file("rules.toml", rules_text);
  std::string data_ = directory_.file("leak.csv", leak_text());
};

TEST_F(RehearseCommand, PrintsCautionPolicyJournalAndFigures) {
  const auto got = run_words({"rehearse", "--rules", rules_, data_});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_EQ(got.err, "");
  for (const std::string_view part :
       {"Oxherd supplements certified gas monitors", "each alarm is acknowledged 5 min after it came",
        "2026-03-02T06:00:13.000Z", "normal -> unacknowledged", "19.30 % ± 0.10 %", "19.5 %",
        "cryo-annexe/low-oxygen     1 ", "still stood at the end of the data"})
    EXPECT_NE(got.out.find(part), std::string::npos) << part << "\n" << got.out;
}

TEST_F(RehearseCommand, HasTheAlarmsOfASealedRoomInForceAsItsRegimeSays) {
  auto sealed = rules_text;
  sealed.replace(sealed.find("\"occupied\""), 10, "\"sealed-low-oxygen\"");
  const auto rules = directory_.file("sealed.toml", sealed);
  const auto count = [&](std::vector<std::string> more) {
    std::vector<std::string> words{"rehearse", "--rules", rules, data_, "--json"};
    words.insert(words.end(), more.begin(), more.end());
    const auto got = run_words(words);
    EXPECT_EQ(got.code, cli::fine) << got.err;
    const auto journal = json::parse(got.out).at("rules")[0].at("journal");
    return std::count_if(journal.begin(), journal.end(), [](const json& l) { return l["alarm"] == "low-oxygen"; });
  };
  EXPECT_EQ(count({}), 0) << "the room is sealed and its door closed";
  EXPECT_EQ(count({"--regime", "ventilated-before-entry"}), 1);
  const auto wrong = run_words({"rehearse", "--rules", rules, data_, "--regime", "empty"});
  EXPECT_EQ(wrong.code, cli::usage);
  EXPECT_NE(wrong.err.find("\"empty\" is none"), std::string::npos) << wrong.err;
}

TEST_F(RehearseCommand, PrintsTheJournalOrTheFiguresAlone) {
  const auto journal = run_words({"rehearse", "--rules", rules_, data_, "--journal"});
  EXPECT_NE(journal.out.find("Journal with"), std::string::npos);
  EXPECT_EQ(journal.out.find("Alarms with"), std::string::npos);
  const auto summary = run_words({"rehearse", "--rules", rules_, data_, "--summary"});
  EXPECT_EQ(summary.out.find("Journal with"), std::string::npos);
  EXPECT_NE(summary.out.find("Alarms with"), std::string::npos);
}

TEST_F(RehearseCommand, SaysWhatDiffersFromAnotherFile) {
  auto slower = rules_text;
  slower.replace(slower.find("\"3 s\""), 5, "\"8 s\"");
  const auto against = directory_.file("slower.toml", slower);
  const auto got = run_words({"rehearse", "--rules", rules_, "--against", against, data_, "--summary"});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_NE(got.out.find("slower.toml it would have come 5 s later"), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("46 s / 41 s (5 s less)"), std::string::npos) << got.out;
}

TEST_F(RehearseCommand, GivesAllOfItAsJson) {
  const auto got = run_words({"rehearse", "--rules", rules_, data_, "--json", "--acknowledge-after", "30s"});
  ASSERT_EQ(got.code, cli::fine) << got.err;
  const auto result = json::parse(got.out);
  EXPECT_EQ(result.at("acknowledge_after_s"), 30.0);
  EXPECT_EQ(result.at("caution"), alarms::caution_long());
  EXPECT_EQ(result.at("data").at("samples"), 60);
  const auto& rules = result.at("rules").at(0);
  ASSERT_EQ(rules.at("journal").size(), 2U);
  EXPECT_EQ(rules.at("journal").at(0).at("at"), "2026-03-02T06:00:13.000Z");
  EXPECT_EQ(rules.at("journal").at(0).at("to"), "unacknowledged");
  EXPECT_EQ(rules.at("journal").at(1).at("cause"), "acknowledge");
  EXPECT_EQ(rules.at("alarms").at(0).at("annunciations"), 1);
  EXPECT_EQ(rules.at("alarms").at(0).at("in_alarm_s"), 46.0);
}

TEST_F(RehearseCommand, RefusesWhatCannotBeMeantWithExitCodeTwo) {
  const auto refused = [&](std::vector<std::string> words) {
    words.insert(words.begin(), "rehearse");
    const auto got = run_words(words);
    EXPECT_EQ(got.code, cli::usage) << got.err;
    EXPECT_EQ(got.out, "");
    return got.err;
  };
  EXPECT_NE(refused({data_}).find("--rules is missing"), std::string::npos);
  EXPECT_NE(refused({"--rules", rules_}).find("name the data: a file IN.csv"), std::string::npos);
  EXPECT_NE(refused({"--rules", rules_, data_, data_}).find("name one file of data"), std::string::npos);
  EXPECT_NE(refused({"--rules", rules_, data_, "--last", "2h"}).find("--last belongs to recorded readings"),
            std::string::npos);
  EXPECT_NE(refused({"--rules", rules_, "--last", "2h", "--zone", "UTC"}).find("--zone belongs to a file"),
            std::string::npos);
  EXPECT_NE(refused({"--rules", rules_, data_, "--acknowledge-after", "soon"}).find("or write never"),
            std::string::npos);
  EXPECT_NE(refused({"--rules", rules_, data_, "--json", "--journal"}).find("exclude each other"), std::string::npos);
  EXPECT_NE(refused({"--rules", rules_, data_, "--acknowledge-aftr", "5min"}).find("--acknowledge-after"),
            std::string::npos);
}

TEST_F(RehearseCommand, FailsWithTheProblemsOfTheRulesAsCheckPrintsThem) {
  auto wrong = rules_text;
  wrong.replace(wrong.find("\"19.5 %\""), 8, "\"19.5 kPa\"");
  const auto got = run_words({"rehearse", "--rules", directory_.file("wrong.toml", wrong), data_});
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_NE(got.err.find("wrong.toml:8:9: room.cryo-annexe.alarm.low-oxygen.below: "), std::string::npos) << got.err;
}

TEST_F(RehearseCommand, FailsForRoomsAndFilesThatAreNotThere) {
  const auto room = run_words({"rehearse", "--rules", rules_, data_, "--room", "cryo-anexe"});
  EXPECT_EQ(room.code, cli::failed);
  EXPECT_NE(room.err.find("has no room \"cryo-anexe\"; there is \"cryo-annexe\""), std::string::npos) << room.err;
  EXPECT_EQ(run_words({"rehearse", "--rules", rules_, data_ + ".no"}).code, cli::failed);
  EXPECT_EQ(run_words({"rehearse", "--rules", rules_ + ".no", data_}).code, cli::failed);
}

TEST_F(RehearseCommand, EndsWithFiveWhenRowsWereLeftOut) {
  const auto data = directory_.file("back.csv", leak_text() + "2026-03-02T05:59:00Z,20.8,0.05\n");
  const auto got = run_words({"rehearse", "--rules", rules_, data});
  EXPECT_EQ(got.code, cli::marked);
  EXPECT_NE(got.out.find("1 row LEFT OUT: back in time"), std::string::npos) << got.out;
}

/// Replaces every `what` in a text.
std::string with_all(std::string text, std::string_view what, std::string_view by) {
  for (auto at = text.find(what); at != text.npos; at = text.find(what, at + by.size()))
    text.replace(at, what.size(), by);
  return text;
}

TEST(RehearseOfTheDemonstration, PrintsWhatTheReadmeShows) {
  ASSERT_EQ(setenv("TZ", "UTC", 1), 0);
  tzset();
  const std::string root = std::string{OXHERD_SOURCE_DIR} + "/";
  const auto got = run_words({"rehearse", "--rules", root + "demo/larkfield.toml", "--against",
                              root + "demo/cryo-annexe.slower.toml", "--room", "cryo-annexe",
                              root + "demo/cryo-annexe.csv", "--summary"});
  ASSERT_EQ(got.code, cli::fine) << got.err;
  std::ifstream in{root + "README.md"};
  const std::string readme{std::istreambuf_iterator<char>{in}, {}};
  const auto begin = readme.find("With demo/larkfield.toml / with");
  ASSERT_NE(begin, std::string::npos);
  const auto shown = readme.substr(begin, readme.find("```", begin) - begin);
  // The table's columns are as wide as the names of the files, which are longer here.
  const auto squeezed = [](std::string text) {
    for (auto at = text.find("  "); at != text.npos; at = text.find("  ", at)) text.erase(at, 1);
    return text;
  };
  EXPECT_NE(squeezed(with_all(got.out, root, "")).find(squeezed(shown)), std::string::npos) << got.out;
}

// What a daemon's own pipeline recorded, and the same as a table: both give the journal that the daemon made itself.
TEST(RehearseOfTheStore, GivesTheJournalOfTheDaemonThatRecordedIt) {
  cli_test::RecordedAnnexe recorded;
  recorded.run(30);
  recorded.annexe.oxygen = 0.19;
  const auto live = recorded.annexe.seconds(30);
  recorded.keep(live);
  ASSERT_FALSE(live.alarms.empty());
  cli_test::TemporaryDirectory directory;
  const auto file = directory.file("rules.toml", rules_text + "deadband = \"0.2 %\"\n");
  const std::vector<std::string> time{"--from", "2026-01-01T00:00:00Z", "--to", "2027-01-01T00:00:00Z"};
  std::vector<std::string> words{"rehearse", "--rules", file, "--json"};
  words.insert(words.end(), time.begin(), time.end());
  const auto got = run_words(recorded.command(words));
  ASSERT_EQ(got.code, cli::fine) << got.err << got.out;
  const auto from_store = json::parse(got.out).at("rules").at(0).at("journal");

  words = {"history", "readings", "--csv"};
  words.insert(words.end(), time.begin(), time.end());
  const auto table = run_words(recorded.command(words));
  ASSERT_EQ(table.code, cli::fine) << table.err;
  const auto as_table = run_words({"rehearse", "--rules", file, "--json", directory.file("history.csv", table.out)});
  ASSERT_EQ(as_table.code, cli::fine) << as_table.err;
  EXPECT_EQ(json::parse(as_table.out).at("rules").at(0).at("journal"), from_store);
  ASSERT_EQ(from_store.size(), live.alarms.size());
  for (std::size_t i = 0; i < from_store.size(); ++i) {
    EXPECT_EQ(from_store.at(i).at("at"), rfc3339(live.alarms[i].record.at));
    EXPECT_EQ(from_store.at(i).at("alarm"), live.alarms[i].record.alarm);
    EXPECT_EQ(from_store.at(i).at("to"), alarms::name_of(live.alarms[i].record.to));
    EXPECT_EQ(from_store.at(i).at("value"), *live.alarms[i].record.value);
    // The daemon forms its reading anew at each evaluation, and the drift since the calibration grows meanwhile.
    EXPECT_NEAR(from_store.at(i).at("expanded").get<double>(), *live.alarms[i].record.expanded, 1e-8);
  }
}

} // namespace oxherd::daemon::rehearse_cli_test
