#include <regex>

#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::status_test {

using cli_test::FakeDaemon;
using cli_test::run_words;
using nlohmann::json;

json alarm_in(std::string_view room, std::string_view state, bool present) {
  return {{"room", room},
          {"alarm", "low-oxygen"},
          {"state", state},
          {"priority", "critical"},
          {"safety", true},
          {"sounding", present},
          {"present", present},
          {"since", "2026-03-01T08:10:00.000Z"},
          {"value", 0.192},
          {"expanded", 0.003},
          {"limit", 0.195},
          {"unit", "/"},
          {"text", "LOW OXYGEN " + std::string{room} + ". Leave now."}};
}

json room_named(std::string_view name) {
  return {{"at", "2026-03-01T08:15:00.000Z"},
          {"room", name},
          {"regime", "occupied"},
          {"monitored", true},
          {"reason", ""},
          {"dry_fraction", 0.2041},
          {"u_expanded", 0.0031},
          {"co2_fraction", 0.00042},
          {"relay_energised", true},
          {"alarms", json::array()},
          {"sensors",
           {{{"sensor", "cell-a"},
             {"measures", {"oxygen"}},
             {"status", "ok"},
             {"quality", "good"},
             {"reasons", json::array()},
             {"age_s", 0.8},
             {"last", {{"dry_fraction", 0.2041}, {"u_dry_fraction", 0.0015}, {"raw_mv", 11.9}}}}}}};
}

json site_with(json rooms) {
  return {
      {"ok", true},
      {"result",
       {{"site", "larkfield"},
        {"version", "0.1.0"},
        {"started", "2026-03-01T06:00:00.000Z"},
        {"now", "2026-03-01T08:15:00.000Z"},
        {"caution", alarms::caution_short()},
        {"rooms", std::move(rooms)},
        {"buses",
         {{{"name", "plant"}, {"connected", false}, {"trouble", "nobody answers"}, {"polls", 120}, {"failures", 7}}}},
        {"outputs",
         {{{"name", "cryo-beacon"}, {"bus", "plant"}, {"written", false}, {"trouble", "no reply"}},
          {{"name", "heartbeat"}, {"bus", "plant"}, {"written", true}, {"trouble", ""}},
          {{"name", "horn"},
           {"bus", "plant"},
           {"written", true},
           {"confirmed", false},
           {"trouble", "was told on"},
           {"proof", {{"overdue", true}}}},
          {{"name", "lamp"},
           {"bus", "plant"},
           {"written", true},
           {"confirmed", true},
           {"trouble", ""},
           {"proof", {{"last", "failed"}, {"last_at", "2026-03-01T06:00:00.000Z"}}}}}},
        {"polls_dropped", 3},
        {"mqtt",
         {{"configured", true},
          {"connected", true},
          {"trouble", ""},
          {"disk_trouble", "disk full"},
          {"waiting", 9},
          {"on_disk", 6},
          {"dropped", 7}}},
        {"store",
         {{"writing", false},
          {"trouble", "disk full"},
          {"waiting", 40},
          {"dropped", 2},
          {"bytes", 3.21e9},
          {"free_share", 0.032},
          {"shortened", true}}}}}};
}

TEST(Status, NamesTheCoverageFactorOfTheRoom) {
  auto room = room_named("cryo-annexe");
  FakeDaemon plain{{site_with(json::array({room})).dump() + '\n'}};
  EXPECT_NE(run_words({"status", "--state-dir", plain.dir()}).out.find("± 0.31 % (k = 2)"), std::string::npos);
  room["coverage_factor"] = 2.58;
  FakeDaemon wider{{site_with(json::array({room})).dump() + '\n'}};
  EXPECT_NE(run_words({"status", "--state-dir", wider.dir()}).out.find("± 0.31 % (k = 2.58)"), std::string::npos);
}

TEST(Status, ShowsValuesQualityAndAge) {
  FakeDaemon daemon{{site_with(json::array({room_named("cryo-annexe")})).dump() + '\n'}};
  const auto got = run_words({"status", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  for (const std::string_view part :
       {"cryo-annexe (occupied)\n  oxygen 20.41 % ± 0.31 % (k = 2), dry basis; CO2 420 ppm; alarm relay energised\n",
        "cell-a  oxygen  20.41 % ± 0.30 %, 11.900 mV  0.8 s old  good",
        "bus plant           NOT CONNECTED      120 polls, 7 failures            nobody answers\n",
        "output cryo-beacon  NOT WRITTEN        by bus plant                     no reply\n",
        "output heartbeat    written            by bus plant\n",
        "output horn         LOST               by bus plant                     was told on; NEVER PROVED\n",
        "output lamp         confirmed          by bus plant                     proof test FAILED 2026-03-01",
        "broker              connected          9 waiting, 6 on disk, 7 dropped  disk full\n",
        "records             NOT BEING WRITTEN  40 waiting, 2 dropped            disk full; 3.2 GB, 3 % of the disk "
        "free: OLDEST "
        "MEASUREMENTS DELETED BEFORE THEIR TIME\n",
        "evaluation          TOO SLOW           3 polls dropped since the start\n", "Supplementary monitor."})
    EXPECT_NE(got.out.find(part), std::string::npos) << part << "\n" << got.out;
  EXPECT_EQ(got.out.find('\x1b'), std::string::npos);
  EXPECT_EQ(daemon.requests(), std::vector<std::string>{R"({"command":"status"})"});
}

TEST(Status, TellsHowTheSparkplugEdgeNodeIsDoingWhereThereIsOne) {
  auto site = site_with(json::array());
  FakeDaemon without{{site.dump() + '\n'}};
  EXPECT_EQ(run_words({"status", "--state-dir", without.dir()}).out.find("sparkplug"), std::string::npos);
  site["result"]["sparkplug"] = {
      {"configured", true}, {"connected", false}, {"trouble", "gone"}, {"births", 2}, {"commands_ignored", 5}};
  FakeDaemon with{{site.dump() + '\n'}};
  const auto got = run_words({"status", "--state-dir", with.dir()}).out;
  EXPECT_NE(got.find("sparkplug           NOT CONNECTED      2 births, 5 commands ignored     gone\n"),
            std::string::npos)
      << got;
}

TEST(Status, TellsPeopleFromTheWatcher) {
  auto site = site_with(json::array());
  site["result"]["notify"] = json::parse(R"({"configured":false,"troubles":[],"waiting":0,
    "watcher":{"configured":true,"trouble":"","last_taken":"2026-03-01T08:14:00.000Z"}})");
  FakeDaemon watched{{site.dump() + '\n'}};
  const auto got = run_words({"status", "--state-dir", watched.dir()}).out;
  EXPECT_NE(got.find("nobody told"), std::string::npos) << got;
  EXPECT_EQ(got.find("told of alarms"), std::string::npos) << "a watcher tells nobody of alarms\n" << got;
  EXPECT_NE(got.find("takes the heartbeat"), std::string::npos) << got;
  site["result"]["notify"]["configured"] = true;
  site["result"]["notify"]["watcher"]["trouble"] = "the server answered 503";
  FakeDaemon unheard{{site.dump() + '\n'}};
  const auto other = run_words({"status", "--state-dir", unheard.dir()}).out;
  for (const auto* part : {"told of alarms", "NO HEARTBEAT", "the server answered 503"})
    EXPECT_NE(other.find(part), std::string::npos) << part << '\n' << other;
}

TEST(Status, TellsALostGasFromOneThatTheRoomHasNoSensorFor) {
  auto bay = room_named("bay-3");
  bay.erase("dry_fraction");
  bay.erase("co2_fraction");
  bay["sensors"][0]["measures"] = {"carbon-dioxide"};
  auto annexe = room_named("cryo-annexe");
  annexe.erase("dry_fraction");
  FakeDaemon daemon{{site_with(json::array({bay, annexe})).dump() + '\n'}};
  const auto got = run_words({"status", "--state-dir", daemon.dir()});
  EXPECT_NE(got.out.find("bay-3 (occupied)\n  oxygen not measured here; CO2 unknown; "), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("cryo-annexe (occupied)\n  oxygen unknown; CO2 420 ppm; "), std::string::npos) << got.out;
}

TEST(Status, ShowsTheWorstRoomFirst) {
  auto alarmed = room_named("pear-store-2");
  alarmed["alarms"].push_back(alarm_in("pear-store-2", "unacknowledged", true));
  auto acknowledged = room_named("bay-3");
  acknowledged["alarms"].push_back(alarm_in("bay-3", "acknowledged", true));
  auto blind = room_named("growth-chamber-1");
  blind["monitored"] = false;
  blind["reason"] = "cell: no answer";
  FakeDaemon daemon{{site_with(json::array({room_named("cryo-annexe"), acknowledged, blind, alarmed})).dump() + '\n'}};
  const auto got = run_words({"status", "--state-dir", daemon.dir()});
  const auto at = [&](std::string_view room) { return got.out.find(std::string{room} + " (occupied)"); };
  EXPECT_LT(at("pear-store-2"), at("growth-chamber-1"));
  EXPECT_LT(at("growth-chamber-1"), at("bay-3"));
  EXPECT_LT(at("bay-3"), at("cryo-annexe"));
  EXPECT_NE(at("cryo-annexe"), std::string::npos);
  EXPECT_NE(got.out.find("  NOT MONITORED: treat its air as unknown. Reason: cell: no answer\n"), std::string::npos);
  EXPECT_NE(got.out.find("pear-store-2/low-oxygen: unacknowledged, critical, safety, SOUNDING, since "),
            std::string::npos);
  EXPECT_NE(got.out.find("(5 min), value 19.20 % ± 0.30 % (k = 2), limit 19.50 %"), std::string::npos) << got.out;
}

TEST(Status, TakesARoomThatDoesNotSayItIsMonitoredAsNotMonitored) {
  auto room = room_named("cryo-annexe");
  room.erase("monitored");
  FakeDaemon daemon{{site_with(json::array({room})).dump() + '\n'}};
  EXPECT_NE(run_words({"status", "--state-dir", daemon.dir()})
                .out.find("NOT MONITORED: treat its air as unknown. No reason was given.\n"),
            std::string::npos);
}

TEST(Status, PassesTheResultOnAsJsonInOneLine) {
  const auto answer = site_with(json::array({room_named("cryo-annexe")}));
  FakeDaemon daemon{{answer.dump() + '\n'}};
  const auto got = run_words({"status", "--json", "--state-dir", daemon.dir()});
  EXPECT_EQ(json::parse(got.out, nullptr, false), answer["result"]);
  EXPECT_EQ(std::ranges::count(got.out, '\n'), 1);
}

TEST(Status, ColoursOnlyATerminal) {
  auto room = room_named("cryo-annexe");
  room["monitored"] = false;
  const auto line = site_with(json::array({room})).dump() + '\n';
  FakeDaemon daemon{{line, line}};
  EXPECT_NE(run_words({"status", "--state-dir", daemon.dir()}, true).out.find("\x1b[1;31mNOT MONITORED"),
            std::string::npos);
  EXPECT_EQ(run_words({"status", "--state-dir", daemon.dir()}, false).out.find('\x1b'), std::string::npos);
}

std::string without_colours(const std::string& text) {
  return std::regex_replace(text, std::regex{"\x1b\\[[0-9;]*m"}, "");
}

TEST(Status, PaintsOnlyWhatNeedsAPersonAndWithTheSameWords) {
  auto bad = room_named("cryo-annexe");
  bad["sensors"][0]["quality"] = "bad";
  bad["sensors"][0]["status"] = "failure";
  bad["sensors"][0].erase("age_s");
  bad["relay_energised"] = false;
  bad["alarms"].push_back(alarm_in("cryo-annexe", "unacknowledged", true));
  bad["alarms"].push_back(alarm_in("cryo-annexe", "acknowledged", true));
  const auto line = site_with(json::array({bad})).dump() + '\n';
  FakeDaemon daemon{{line, line}};
  const auto painted = run_words({"status", "--state-dir", daemon.dir()}, true).out;
  EXPECT_EQ(without_colours(painted), run_words({"status", "--state-dir", daemon.dir()}, false).out);
  for (const std::string_view part :
       {"\x1b[1;31mNO DATA\x1b[0m", "\x1b[1;31mbad: failure\x1b[0m", "\x1b[1;31malarm relay DROPPED (alarm)\x1b[0m",
        "\x1b[1;31mcryo-annexe/low-oxygen: unacknowledged\x1b[0m",
        "\x1b[1;33mcryo-annexe/low-oxygen: acknowledged\x1b[0m", "\x1b[1;31mLOST\x1b[0m",
        "\x1b[1;33mNOT WRITTEN\x1b[0m", "\x1b[1;33mNOT CONNECTED\x1b[0m", "\x1b[1;33mNOT BEING WRITTEN\x1b[0m",
        "\x1b[1;33mTOO SLOW\x1b[0m"})
    EXPECT_NE(painted.find(part), std::string::npos) << part << '\n' << painted;
}

TEST(Status, LeavesWhatIsNormalPlain) {
  auto answer = site_with(json::array({room_named("cryo-annexe")}));
  auto& plant = answer["result"];
  plant["buses"][0]["connected"] = true;
  plant["outputs"] = json::array();
  plant["polls_dropped"] = 0;
  plant["store"]["writing"] = true;
  plant["store"]["shortened"] = false;
  FakeDaemon daemon{{answer.dump() + '\n'}};
  EXPECT_EQ(run_words({"status", "--state-dir", daemon.dir()}, true).out.find('\x1b'), std::string::npos);
}

TEST(Status, RefusesAPeriodThatMakesNoSense) {
  const auto said = [](const std::vector<std::string>& words) {
    const auto got = run_words(words);
    EXPECT_EQ(got.code, cli::usage);
    EXPECT_EQ(got.out, "");
    return got.err;
  };
  EXPECT_EQ(said({"status", "--every", "5s"}), "oxherd status: --every belongs to --watch\n");
  for (const std::string typed : {"0s", "2h", "999ms", "-5s"})
    EXPECT_EQ(said({"status", "--watch", "--every=" + typed}),
              "oxherd status: --every: write a duration from \"1s\" to \"1min\"\n")
        << typed;
  EXPECT_NE(said({"status", "--watch", "--every", "5"}).find("oxherd status: --every: "), std::string::npos);
  EXPECT_NE(said({"status", "--watch", "5"}).find("one word too many"), std::string::npos);
}

TEST(Status, SaysThatNoDaemonRuns) {
  const cli_test::TemporaryDirectory empty;
  const auto got = run_words({"status", "--state-dir", empty.path().string()});
  EXPECT_EQ(got.code, cli::no_daemon);
  EXPECT_EQ(got.out, "");
  EXPECT_NE(got.err.find("is it running? start it with `oxherd run --config FILE`"), std::string::npos);
}

TEST(HostileAnswers, AreReportedNotBelieved) {
  const std::string deep = R"({"ok":true,"result":)" + std::string(100000, '[') + std::string(100000, ']') + "}";
  struct Row {
    std::string line, message;
  };
  const std::vector<Row> table{{"not json", "it is not a JSON object"},
                               {"[]", "it is not a JSON object"},
                               {R"({"ok":true,"result":{)", "it is not a JSON object"},
                               {R"({"result":{}})", "it does not say whether it is ok"},
                               {R"({"ok":"yes","result":{}})", "it does not say whether it is ok"},
                               {R"({"ok":true})", "it has no result"},
                               {deep, "it is nested too deeply"}};
  for (const auto& row : table) {
    FakeDaemon daemon{{row.line + '\n'}};
    const auto got = run_words({"status", "--state-dir", daemon.dir()});
    EXPECT_EQ(got.code, cli::failed) << row.message;
    EXPECT_EQ(got.out, "");
    EXPECT_EQ(got.err, "oxherd status: the daemon's answer could not be understood: " + row.message + '\n');
  }
}

TEST(HostileAnswers, OfWrongTypesNeitherCrashNorReassure) {
  const std::vector<std::string> results{
      "{}",
      "null",
      "42",
      R"("text")",
      R"({"rooms":[null,1,"x",[],{}]})",
      R"({"rooms":[{"sensors":{"a":1},"alarms":[7,null]}],"buses":"x","mqtt":[],"store":null,"now":5})",
      R"({"rooms":[{"room":["x"],"monitored":"true","dry_fraction":"20","sensors":[{"age_s":"old","last":[]}]}]})",
      R"({"rooms":[{"dry_fraction":1e308,"u_expanded":-1e308,"sensors":[{"age_s":1e308,"reasons":[1]}]}]})"};
  for (const auto& result : results) {
    const auto line = R"({"ok":true,"result":)" + result + "}\n";
    FakeDaemon daemon{{line, line}};
    const auto got = run_words({"status", "--state-dir", daemon.dir()});
    EXPECT_EQ(got.code, cli::fine) << result;
    EXPECT_TRUE(got.out.find("NOT MONITORED") != std::string::npos ||
                got.out.find("nothing is monitored") != std::string::npos)
        << got.out;
    EXPECT_EQ(run_words({"alarms", "--state-dir", daemon.dir()}).code, cli::fine) << result;
  }
}

TEST(HostileAnswers, CannotReachTheTerminal) {
  auto room = room_named("cryo\x1b[2J");
  room["monitored"] = false;
  room["reason"] = "\x1b]0;owned\x07";
  FakeDaemon daemon{{site_with(json::array({room})).dump() + '\n',
                     "{\"ok\":false,\"error\":\"\\u001b[2J\",\"kind\":\"internal\"}\n"}};
  EXPECT_EQ(run_words({"status", "--state-dir", daemon.dir()}).out.find('\x1b'), std::string::npos);
  EXPECT_EQ(run_words({"status", "--state-dir", daemon.dir()}).err.find('\x1b'), std::string::npos);
}

TEST(Alarms, ListsWhatStandsWithItsText) {
  const json answer{
      {"ok", true},
      {"result",
       {{"now", "2026-03-01T08:15:00.000Z"},
        {"caution", "c"},
        {"alarms", {alarm_in("cryo-annexe", "latched_unacknowledged", true), alarm_in("bay-3", "normal", false)}}}}};
  const auto line = answer.dump() + '\n';
  FakeDaemon daemon{{line, line, line, line}};
  const auto got = run_words({"alarms", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_NE(got.out.find("cryo-annexe/low-oxygen: latched unacknowledged, critical, safety, SOUNDING"),
            std::string::npos);
  EXPECT_NE(got.out.find("\n  LOW OXYGEN cryo-annexe. Leave now.\n"), std::string::npos);
  EXPECT_EQ(got.out.find("bay-3/low-oxygen"), std::string::npos);
  EXPECT_NE(got.out.find("1 alarm normal.\n"), std::string::npos);
  EXPECT_NE(run_words({"alarms", "--all", "--state-dir", daemon.dir()}).out.find("bay-3/low-oxygen: normal"),
            std::string::npos);
  const auto room = run_words({"alarms", "--room", "bay-3", "--state-dir", daemon.dir()});
  EXPECT_NE(room.out.find("No alarm stands: 1 alarm normal.\n"), std::string::npos) << room.out;
  const auto as_json =
      json::parse(run_words({"alarms", "--json", "--room", "bay-3", "--state-dir", daemon.dir()}).out, nullptr, false);
  EXPECT_EQ(as_json["alarms"].size(), 1U);
}

} // namespace oxherd::daemon::status_test
