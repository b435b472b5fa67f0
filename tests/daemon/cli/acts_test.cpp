#include <nlohmann/json.hpp>

#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::acts_test {

using cli_test::FakeDaemon;
using cli_test::run_words;
using nlohmann::json;

const std::string done = "{\"ok\":true,\"result\":{}}\n";
const std::string not_now = "{\"ok\":false,\"error\":\"there is nothing to acknowledge\",\"kind\":\"refused\"}\n";
const std::string nobody = "{\"ok\":false,\"error\":\"there is no alarm bay-3/low\",\"kind\":\"unknown\"}\n";

json alarm_named(std::string_view room, std::string_view alarm, std::string_view state, bool sounding) {
  return {{"room", room}, {"alarm", alarm}, {"state", state}, {"sounding", sounding}};
}

std::string list_of_alarms() {
  const json answer{{"ok", true},
                    {"result",
                     {{"alarms",
                       {alarm_named("cryo-annexe", "low-oxygen", "unacknowledged", true),
                        alarm_named("cryo-annexe", "high-oxygen", "returned_to_normal_unacknowledged", false),
                        alarm_named("cryo-annexe", "very-low-oxygen", "latched_unacknowledged", true),
                        alarm_named("cryo-annexe", "not-monitored", "latched_acknowledged", false),
                        alarm_named("cryo-annexe", "spare", "normal", false),
                        alarm_named("bay-3", "high-co2", "unacknowledged", true)}}}}};
  return answer.dump() + '\n';
}

/// The alarms of the acts that were sent, in order.
std::vector<std::string> acted_on(FakeDaemon& daemon) {
  std::vector<std::string> out;
  for (const auto& request : daemon.requests()) {
    const auto parsed = json::parse(request, nullptr, false);
    if (parsed["command"] == "act") out.push_back(parsed["alarm"].get<std::string>());
  }
  return out;
}

TEST(AnAct, CarriesWhoOnWhatAndWhy) {
  FakeDaemon daemon{{done}};
  const auto got = run_words({"acknowledge", "cryo-annexe/low-oxygen", "--by", "R. Okafor", "--comment", "fan \"on\"",
                              "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_TRUE(got.out.starts_with("cryo-annexe/low-oxygen: acknowledge by R. Okafor\n")) << got.out;
  EXPECT_NE(got.out.find("Supplementary monitor."), std::string::npos);
  ASSERT_EQ(daemon.requests().size(), 1U);
  const json expected{{"command", "act"},      {"act", "acknowledge"},  {"room", "cryo-annexe"},
                      {"alarm", "low-oxygen"}, {"author", "R. Okafor"}, {"comment", "fan \"on\""}};
  EXPECT_EQ(json::parse(daemon.requests()[0], nullptr, false), expected);
}

TEST(AnAct, ThatTakesTimeSaysHowLong) {
  struct Typed {
    std::vector<std::string> words;
    std::string act;
    double seconds;
  };
  for (const Typed& typed :
       {Typed{{"shelve", "--for", "30 min"}, "shelve", 1800.0}, Typed{{"shelve", "--once"}, "shelve_once", 3600.0},
        Typed{{"remove-from-service", "--for", "2h"}, "remove_from_service", 7200.0},
        Typed{{"test-alarm"}, "test", 60.0}}) {
    FakeDaemon daemon{{done}};
    auto words = typed.words;
    words.insert(words.end(), {"cryo-annexe/low-oxygen", "--by", "R. Okafor", "--state-dir", daemon.dir()});
    EXPECT_EQ(run_words(words).code, cli::fine);
    ASSERT_EQ(daemon.requests().size(), 1U);
    const auto request = json::parse(daemon.requests()[0], nullptr, false);
    EXPECT_EQ(request.value("act", ""), typed.act);
    EXPECT_EQ(request.value("duration_s", 0.0), typed.seconds);
  }
  for (const std::vector<std::string>& wrong : {std::vector<std::string>{"remove-from-service", "bay-3/high-co2"},
                                                {"shelve", "bay-3/high-co2", "--for", "30"},
                                                {"test-alarm", "bay-3/high-co2", "--end", "--for", "1 min"}})
    EXPECT_EQ(run_words(wrong).code, cli::usage);
}

TEST(AnAct, HasThreeNames) {
  for (const std::string act : {"acknowledge", "silence", "reset"}) {
    FakeDaemon daemon{{done}};
    EXPECT_EQ(run_words({act, "bay-3/high-co2", "--by", "x", "--state-dir", daemon.dir()}).code, cli::fine);
    EXPECT_EQ(json::parse(daemon.requests().at(0), nullptr, false)["act"], act);
  }
}

TEST(AnAct, ThatIsRefusedEndsWithExitCodeFour) {
  FakeDaemon daemon{{not_now}};
  const auto got = run_words({"acknowledge", "cryo-annexe/low-oxygen", "--by", "x", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::refused);
  EXPECT_EQ(got.err, "oxherd acknowledge: cryo-annexe/low-oxygen: there is nothing to acknowledge\n");
  EXPECT_EQ(got.out, "");
}

TEST(AnAct, OnAnUnknownAlarmEndsWithExitCodeOne) {
  FakeDaemon daemon{{nobody}};
  EXPECT_EQ(run_words({"reset", "bay-3/low", "--by", "x", "--state-dir", daemon.dir()}).code, cli::failed);
}

TEST(AnAct, OnSeveralAlarmsGoesOnAfterARefusal) {
  FakeDaemon daemon{{not_now, done, nobody}};
  const auto got =
      run_words({"acknowledge", "a/one", "a/two", "a/three", "--by", "x", "--json", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::refused);
  const std::vector<std::string> expected{"one", "two", "three"};
  EXPECT_EQ(acted_on(daemon), expected);
  const auto answer = json::parse(got.out, nullptr, false);
  EXPECT_EQ(answer["acts"][0]["ok"], false);
  EXPECT_EQ(answer["acts"][1]["ok"], true);
  EXPECT_EQ(answer["acts"][2]["error"], "there is no alarm bay-3/low");
}

TEST(AnActOnARoom, ReachesTheAlarmsItAppliesTo) {
  struct Row {
    std::string act;
    std::vector<std::string> alarms;
  };
  const std::vector<Row> table{{"acknowledge", {"low-oxygen", "high-oxygen", "very-low-oxygen"}},
                               {"silence", {"low-oxygen", "very-low-oxygen"}},
                               {"reset", {"not-monitored"}}};
  for (const auto& row : table) {
    FakeDaemon daemon{{list_of_alarms(), done, done, done}};
    const auto got = run_words({row.act, "--room", "cryo-annexe", "--by", "x", "--state-dir", daemon.dir()});
    EXPECT_EQ(got.code, cli::fine) << got.err;
    EXPECT_EQ(acted_on(daemon), row.alarms) << row.act;
  }
}

TEST(AnActOnARoom, SaysWhenThereIsNothingToDo) {
  FakeDaemon daemon{{list_of_alarms()}};
  const auto got = run_words({"reset", "--room", "bay-3", "--by", "x", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_TRUE(got.out.starts_with("nothing to reset in bay-3\n")) << got.out;
}

TEST(AnActOnARoom, FailsForARoomThatDoesNotExist) {
  FakeDaemon daemon{{list_of_alarms()}};
  const auto got = run_words({"reset", "--room", "bay-4", "--by", "x", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_EQ(got.err, "oxherd reset: there is no room \"bay-4\" with alarms\n");
}

TEST(AnAct, IsRefusedLocallyWhenTheCommandLineIsWrong) {
  struct Row {
    std::vector<std::string> words;
    std::string message;
  };
  const std::vector<Row> table{
      {{"acknowledge", "--by", "x"}, "name at least one ROOM/ALARM, or a whole room with --room"},
      {{"acknowledge", "low-oxygen", "--by", "x"},
       "\"low-oxygen\" is not ROOM/ALARM, such as cryo-annexe/low-oxygen; `oxherd alarms` lists them"},
      {{"acknowledge", "cryo-annexe/", "--by", "x"},
       "\"cryo-annexe/\" is not ROOM/ALARM, such as cryo-annexe/low-oxygen; `oxherd alarms` lists them"},
      {{"acknowledge", "a/b", "--room", "a", "--by", "x"}, "ROOM/ALARM and --room exclude each other"},
      {{"acknowledge", "a/b", "--by", "  "}, "--by is missing: the journal needs the name of a person"}};
  for (const auto& row : table) {
    const auto got = run_words(row.words);
    EXPECT_EQ(got.code, cli::usage) << row.message;
    EXPECT_EQ(got.err, "oxherd acknowledge: " + row.message + '\n');
  }
}

TEST(AnAct, WithoutADaemonEndsWithExitCodeThree) {
  const cli_test::TemporaryDirectory empty;
  const auto got = run_words({"silence", "a/b", "a/c", "--by", "x", "--state-dir", empty.path().string()});
  EXPECT_EQ(got.code, cli::no_daemon);
  EXPECT_EQ(std::ranges::count(got.err, '\n'), 1) << got.err;
}

} // namespace oxherd::daemon::acts_test
