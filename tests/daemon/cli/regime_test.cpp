#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::regime_cli_test {

using cli_test::FakeDaemon;
using cli_test::run_words;
using nlohmann::json;

json store_with(json lock) {
  return {{"room", "pear-store-2"},
          {"regime", "sealed-low-oxygen"},
          {"regime_since", "2026-03-01T08:10:00.000Z"},
          {"regime_by", "R. Okafor"},
          {"regime_because", "pull-down"},
          {"door", "closed"},
          {"entry_lock", std::move(lock)},
          {"monitored", true},
          {"alarms", {{{"alarm", "low-oxygen"}, {"state", "normal"}, {"safety", true}, {"in_force", false}}}}};
}

std::string site_answer(const json& room) {
  return json{{"ok", true}, {"result", {{"now", "2026-03-01T08:15:00.000Z"}, {"rooms", {room}}}}}.dump() + '\n';
}

const json withheld{
    {"withheld", true}, {"reasons", {"the room is sealed at low oxygen"}}, {"fresh_for_s", nullptr}, {"hold_s", 900}};

TEST(TheRegimeCommand, ShowsWhoSaidWhatAndWhyTheLockIsWithheld) {
  FakeDaemon daemon{{site_answer(store_with(withheld))}};
  const auto got = run_words({"regime", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_NE(got.out.find("pear-store-2"), std::string::npos);
  EXPECT_NE(got.out.find("by R. Okafor: pull-down"), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("entry lock withheld: the room is sealed at low oxygen"), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("Supplementary monitor."), std::string::npos);
}

TEST(TheRegimeCommand, SaysHowLongTheAirMustStayFresh) {
  FakeDaemon daemon{{site_answer(
      store_with({{"withheld", true}, {"reasons", json::array()}, {"fresh_for_s", 300}, {"hold_s", 900}}))}};
  const auto got = run_words({"regime", "pear-store-2", "--state-dir", daemon.dir()});
  EXPECT_NE(got.out.find("entry lock withheld for 10 min more, if the air stays fresh"), std::string::npos) << got.out;
}

TEST(TheRegimeCommand, SendsWhatAPersonSays) {
  FakeDaemon daemon{
      {json{{"ok", true}, {"result", {{"recorded", true}, {"room", store_with(withheld)}}}}.dump() + '\n'}};
  const auto got = run_words({"regime", "pear-store-2", "--set", "sealed-low-oxygen", "--seen-empty", "--by",
                              "R. Okafor", "--comment", "pull-down", "--state-dir", daemon.dir(), "--json"});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  ASSERT_EQ(daemon.requests().size(), 1U);
  EXPECT_EQ(json::parse(daemon.requests()[0]), (json{{"command", "regime"},
                                                     {"room", "pear-store-2"},
                                                     {"regime", "sealed-low-oxygen"},
                                                     {"author", "R. Okafor"},
                                                     {"comment", "pull-down"},
                                                     {"seen_empty", true}}));
  EXPECT_EQ(json::parse(got.out).at("caution"), alarms::caution_short());
}

TEST(TheRegimeCommand, TellsHowToAnswerARefusal) {
  FakeDaemon daemon{{R"({"ok":false,"kind":"refused","error":"somebody must have seen that the room is empty, locked )"
                     R"(and signed: say so, after looking"})"
                     "\n"}};
  const auto got = run_words({"regime", "pear-store-2", "--set", "sealed-low-oxygen", "--by", "R. Okafor", "--comment",
                              "pull-down", "--state-dir", daemon.dir()});
  EXPECT_NE(got.code, cli::fine);
  EXPECT_NE(got.err.find("with --seen-empty"), std::string::npos) << got.err;
}

TEST(TheRegimeCommand, RefusesWhatMakesNoSense) {
  const auto said = [](std::vector<std::string> words) {
    words.insert(words.begin(), "regime");
    const auto got = run_words(words);
    EXPECT_EQ(got.code, cli::usage);
    return got.err;
  };
  EXPECT_NE(said({"--set", "occupied"}).find("--set needs one ROOM"), std::string::npos);
  EXPECT_NE(said({"pear-store-2", "--set", "empty"}).find("\"empty\" is no regime"), std::string::npos);
  EXPECT_NE(said({"pear-store-2", "--seen-empty"}).find("--seen-empty belongs to --set"), std::string::npos);
}

TEST(TheRegimeCommand, SaysThatThereIsNoSuchRoom) {
  FakeDaemon daemon{{site_answer(store_with(withheld))}};
  const auto got = run_words({"regime", "bay-9", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_NE(got.err.find("there is no room \"bay-9\""), std::string::npos) << got.err;
}

TEST(Status, NamesTheAlarmsThatAreNotInForceAndTheDoor) {
  FakeDaemon daemon{{site_answer(store_with(withheld))}};
  const auto got = run_words({"status", "--state-dir", daemon.dir()});
  EXPECT_NE(got.out.find("door closed; entry lock withheld"), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("not in force while the room is sealed-low-oxygen and its door closed: low-oxygen"),
            std::string::npos)
      << got.out;
}

} // namespace oxherd::daemon::regime_cli_test
