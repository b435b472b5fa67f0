#include "daemon/cli/completion.hpp"

#include <algorithm>

#include <nlohmann/json.hpp>

#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::completion_test {

using cli::Offer;
using cli_test::FakeDaemon;
using cli_test::run_words;
using nlohmann::json;
using Words = std::vector<std::string>;

const json status = json::parse(R"({
  "rooms": [
    {"room": "cryo-annexe",
     "alarms": [{"alarm": "low-oxygen"}, {"alarm": "not-monitored"}],
     "sensors": [{"sensor": "cell-a", "measures": ["oxygen"]}, {"sensor": "air", "measures": ["humidity"]}]},
    {"room": "bay-3", "alarms": [{"alarm": "low-oxygen"}], "sensors": [{"sensor": "air", "measures": []}]}],
  "outputs": [{"name": "site-horn"}]})");

TEST(AnOffer, FollowsFromTheFormInTheHelp) {
  using enum Offer::Kind;
  const auto is = [](const Offer& offer, Offer::Kind kind, const Words& words, std::string_view names) {
    return offer.kind == kind && offer.words == words && offer.names == names;
  };
  EXPECT_TRUE(is(cli::offer_for_form("ROOM/ALARM..."), names, {}, "room-alarms"));
  EXPECT_TRUE(is(cli::offer_for_form("[ROOM/SENSOR|SERIAL]"), names, {}, "cells"));
  EXPECT_TRUE(is(cli::offer_for_form("[readings|alarms]"), words, {"readings", "alarms"}, ""));
  EXPECT_TRUE(is(cli::offer_for_form("[test | answer NUMBER]"), words, {"test", "answer"}, ""));
  EXPECT_TRUE(is(cli::offer_for_form("IN.csv"), files, {}, ""));
  EXPECT_TRUE(is(cli::offer_for_form("NUMBER"), nothing, {}, ""));
  EXPECT_TRUE(is(cli::offer_for_form(""), nothing, {}, ""));
  EXPECT_TRUE(is(cli::offer_for({"--config", "FILE", "", ""}), files, {}, ""));
  EXPECT_TRUE(is(cli::offer_for({"--state-dir", "DIR", "", ""}), folders, {}, ""));
  EXPECT_TRUE(is(cli::offer_for({"--room", "ROOM", "", ""}), names, {}, "rooms"));
  EXPECT_TRUE(is(cli::offer_for({"--role", "ROLE", "", "", true, {"viewer"}}), words, {"viewer"}, ""));
  EXPECT_TRUE(is(cli::offer_for({"--json", "", "", ""}), nothing, {}, ""));
}

TEST(WordsToOffer, StandInTheHelpOfTheirOption) {
  std::size_t options = 0;
  for (const auto* command : cli::commands())
    for (const auto& option : command->options()) {
      if (!option.words.empty()) ++options;
      for (const auto& word : option.words)
        EXPECT_NE(option.help.find(word), std::string::npos) << command->name << ' ' << option.name << ' ' << word;
    }
  EXPECT_GT(options, 5U);
}

TEST(NamesToOffer, ComeFromTheDaemonEachOnce) {
  EXPECT_EQ(cli::names_in(status, "rooms"), (Words{"cryo-annexe", "bay-3"}));
  EXPECT_EQ(cli::names_in(status, "alarms"), (Words{"low-oxygen", "not-monitored"}));
  EXPECT_EQ(cli::names_in(status, "room-alarms"),
            (Words{"cryo-annexe/low-oxygen", "cryo-annexe/not-monitored", "bay-3/low-oxygen"}));
  EXPECT_EQ(cli::names_in(status, "sensors"), (Words{"cell-a", "air"}));
  EXPECT_EQ(cli::names_in(status, "cells"), Words{"cryo-annexe/cell-a"});
  EXPECT_EQ(cli::names_in(status, "outputs"), Words{"site-horn"});
}

TEST(NamesToOffer, AreNeverAnythingThatAShellCouldRun) {
  auto hostile = status;
  hostile["rooms"][0]["room"] = "$(reboot)";
  hostile["rooms"][1]["room"] = "bay 3";
  hostile["rooms"][1]["alarms"][0]["alarm"] = "`id`";
  hostile["outputs"].push_back({{"name", "../horn"}});
  EXPECT_EQ(cli::names_in(hostile, "rooms"), Words{});
  EXPECT_EQ(cli::names_in(hostile, "room-alarms"), Words{});
  EXPECT_EQ(cli::names_in(hostile, "alarms"), (Words{"low-oxygen", "not-monitored"}));
  EXPECT_EQ(cli::names_in(hostile, "outputs"), Words{"site-horn"});
  for (const auto& wrong : {json(), json(1), json{{"rooms", "x"}}, json{{"rooms", {nullptr, 1}}}})
    EXPECT_EQ(cli::names_in(wrong, "rooms"), Words{});
}

TEST(Completion, PrintsNamesOneALine) {
  FakeDaemon daemon{{json{{"ok", true}, {"result", status}}.dump() + '\n'}};
  const auto got = run_words({"completion", "--names", "rooms", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_EQ(got.out, "cryo-annexe\nbay-3\n");
}

TEST(Completion, IsSilentWithoutADaemon) {
  const cli_test::TemporaryDirectory empty;
  const auto got = run_words({"completion", "--names", "rooms", "--state-dir", empty.path().string()});
  EXPECT_EQ(got.code, cli::no_daemon);
  EXPECT_EQ(got.out + got.err, "");
}

TEST(Completion, SaysWhatShellsAndKindsThereAre) {
  EXPECT_EQ(run_words({"completion"}).err,
            "oxherd completion: name one shell: bash, zsh or fish; or --names KIND alone\n");
  EXPECT_EQ(run_words({"completion", "basch"}).code, cli::usage);
  EXPECT_EQ(run_words({"completion", "bash", "--names", "rooms"}).code, cli::usage);
  EXPECT_NE(run_words({"completion", "--names", "room"}).err.find("there is no kind \"room\"; there is \"rooms\""),
            std::string::npos);
}

TEST(AScriptOfCompletion, NamesEveryCommandAndOption) {
  for (const auto* shell : {"bash", "zsh", "fish"}) {
    const auto script = run_words({"completion", shell}).out;
    const bool is_fish = std::string_view{shell} == "fish";
    for (const auto* command : cli::commands()) {
      const auto name = std::string{command->name};
      EXPECT_NE(script.find(is_fish ? "-n __oxherd_starts -a " + name + " -d " : "'" + name + ":"), std::string::npos)
          << shell << ' ' << name;
      for (const auto& option : command->options()) {
        if (!cli::is_offered(option)) continue;
        const bool is_long = option.name.starts_with("--");
        const auto in_fish =
            "-n '__oxherd_is " + name + "' -" + (is_long ? "l " : "s ") + option.name.substr(is_long ? 2 : 1);
        EXPECT_NE(script.find(is_fish ? in_fish : "'" + option.name + ":"), std::string::npos)
            << shell << ' ' << option.name;
      }
    }
  }
}

} // namespace oxherd::daemon::completion_test
