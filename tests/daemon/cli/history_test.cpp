#include <nlohmann/json.hpp>

#include "daemon/payloads.hpp"
#include "daemon/time_text.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::history_test {

using cli_test::FakeDaemon;
using cli_test::run_words;
using nlohmann::json;

WallTime at(std::string_view text) { return parse_rfc3339(text).value(); }

ReadingHistory two_readings() {
  ReadingHistory out;
  out.truncated = true;
  out.readings.resize(2);
  out.readings[0] = {.at = at("2026-03-01T08:00:00.000Z"),
                     .room = "cryo-annexe",
                     .sensor = "cell-a",
                     .quality = "good",
                     .status = "ok",
                     .reasons = "",
                     .oxygen = 0.2041,
                     .u_oxygen = 0.0015,
                     .oxygen_wet = 0.2014,
                     .po2_Pa = 18901.0,
                     .raw_V = 0.0119,
                     .temperature_K = 285.35,
                     .humidity = 0.88,
                     .pressure_Pa = 93870.0,
                     .carbon_dioxide = std::nullopt,
                     .over_pressure_Pa = 187.4,
                     .u_temperature_K = 0.15,
                     .u_pressure_Pa = 60.0,
                     .u_carbon_dioxide = std::nullopt,
                     .u_over_pressure_Pa = 1.5};
  out.readings[1] = {.at = at("2026-03-01T08:00:01.000Z"),
                     .room = "cryo-annexe",
                     .sensor = "cell-a",
                     .quality = "bad",
                     .status = "failure",
                     .reasons = "no answer"};
  return out;
}

std::string answer_of(const std::string& result) { return R"({"ok":true,"result":)" + result + "}\n"; }

json request_sent(FakeDaemon& daemon) { return json::parse(daemon.requests().at(0), nullptr, false); }

TEST(HistoryResult, WritesEachReadingInTheUnitOfItsKey) {
  const auto got = json::parse(history_payload(two_readings()), nullptr, false);
  EXPECT_EQ(got["truncated"], true);
  const auto& first = got["readings"][0];
  EXPECT_EQ(first["at"], "2026-03-01T08:00:00.000Z");
  EXPECT_DOUBLE_EQ(first["dry_fraction"].get<double>(), 0.2041);
  EXPECT_DOUBLE_EQ(first["po2_kpa"].get<double>(), 18.901);
  EXPECT_DOUBLE_EQ(first["raw_mv"].get<double>(), 11.9);
  EXPECT_NEAR(first["temperature_c"].get<double>(), 12.2, 1e-9);
  EXPECT_DOUBLE_EQ(first["humidity_percent"].get<double>(), 88.0);
  EXPECT_DOUBLE_EQ(first["pressure_kpa"].get<double>(), 93.87);
  EXPECT_TRUE(first["co2_fraction"].is_null());
  EXPECT_DOUBLE_EQ(first["over_pressure_pa"].get<double>(), 187.4);
  EXPECT_DOUBLE_EQ(first["u_temperature_c"].get<double>(), 0.15);
  EXPECT_DOUBLE_EQ(first["u_pressure_kpa"].get<double>(), 0.06);
  EXPECT_TRUE(first["u_co2_fraction"].is_null());
  EXPECT_DOUBLE_EQ(first["u_over_pressure_pa"].get<double>(), 1.5);
  EXPECT_TRUE(got["readings"][1]["dry_fraction"].is_null());
  EXPECT_EQ(got["readings"][1]["reasons"], "no answer");
}

TEST(HistoryOfReadings, IsATableWithDashesForWhatWasNotKnown) {
  FakeDaemon daemon{{answer_of(history_payload(two_readings()))}};
  const auto got = run_words({"history", "--room", "cryo-annexe", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_NE(
      got.out.find(
          "cryo-annexe/cell-a  20.41     0.30   20.14     18.901   11.900  12.2  88   93.87  -        187      good"),
      std::string::npos)
      << got.out;
  EXPECT_NE(got.out.find("bad      no answer\n"), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("2 readings, the newest; there are more: raise --limit or narrow the time\n"),
            std::string::npos);
}

TEST(HistoryOfReadings, MarksInAWordWhatWasDerivedLater) {
  auto readings = two_readings();
  readings.readings[0].derivation = 3;
  const auto answer = answer_of(history_payload(readings));
  FakeDaemon daemon{{answer, answer}};
  const auto now = run_words({"history", "--state-dir", daemon.dir()});
  EXPECT_NE(now.out.find("quality  value         reasons\n"), std::string::npos) << now.out;
  EXPECT_NE(now.out.find("good     re-derived 3\n"), std::string::npos) << now.out;
  EXPECT_NE(now.out.find("bad      -             no answer\n"), std::string::npos) << now.out;
  EXPECT_NE(now.out.find("\n1 re-derived: "), std::string::npos) << now.out;
  const auto first = run_words({"history", "--as-recorded", "--state-dir", daemon.dir()});
  EXPECT_NE(first.out.find("good     superseded by 3\n"), std::string::npos) << first.out;
  EXPECT_EQ(json::parse(daemon.requests().at(1))["as_recorded"], true);
  EXPECT_FALSE(json::parse(daemon.requests().at(0)).contains("as_recorded"));
}

// RFC 4180, section 2: header line, CR LF, quotes around a field that holds comma or quote, quotes doubled.
TEST(HistoryAsCsv, IsWrittenByTheStandardWithTheCautionOutsideTheFile) {
  auto readings = two_readings();
  readings.readings[1].reasons = "no answer, \"unit 11\"";
  FakeDaemon daemon{{answer_of(history_payload(readings))}};
  const auto got = run_words({"history", "--csv", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_EQ(
      got.out,
      "at,room,sensor,quality,status,dry_fraction,u_dry_fraction,wet_fraction,po2_kpa,raw_mv,temperature_c,"
      "humidity_percent,pressure_kpa,co2_fraction,over_pressure_pa,derivation,reasons\r\n"
      "2026-03-01T08:00:00.000Z,cryo-annexe,cell-a,good,ok,0.2041,0.0015,0.2014,18.901,11.9,12.2,88,93.87,,187.4,,\r\n"
      "2026-03-01T08:00:01.000Z,cryo-annexe,cell-a,bad,failure,,,,,,,,,,,,\"no answer, \"\"unit "
      "11\"\"\"\r\n");
  EXPECT_NE(got.err.find("there are more, only the newest are written"), std::string::npos) << got.err;
  EXPECT_NE(got.err.find("Supplementary monitor."), std::string::npos) << got.err;
}

TEST(HistoryAsCsv, HasTheAlarmsWithTheirComments) {
  FakeDaemon daemon{{answer_of(R"({"alarms":[{"at":"2026-03-01T08:10:00.000Z","sequence":17,"room":"cryo-annexe",)"
                               R"("alarm":"low-oxygen","comment":"fan on, door open","limit":0.195}]})")}};
  const auto got = run_words({"history", "alarms", "--csv", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.out,
            "at,sequence,room,alarm,event,from,to,cause,author,value,expanded,limit,unit,priority,text,comment\r\n"
            "2026-03-01T08:10:00.000Z,17,cryo-annexe,low-oxygen,,,,,,,,0.195,,,,\"fan on, door open\"\r\n");
}

TEST(HistoryOfReadings, AsksForExactlyWhatWasTyped) {
  FakeDaemon daemon{{answer_of(R"({"truncated":false,"readings":[]})")}};
  const auto got = run_words({"history", "readings", "--room", "cryo-annexe", "--sensor", "cell-a", "--from",
                              "2026-03-01T09:00:00+01:00", "--to", "2026-03-01T09:30:00+01:00", "--limit", "200",
                              "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_NE(got.out.find("Nothing was recorded in that time.\n"), std::string::npos);
  const json expected{{"command", "history"},
                      {"what", "readings"},
                      {"room", "cryo-annexe"},
                      {"sensor", "cell-a"},
                      {"from", "2026-03-01T08:00:00.000Z"},
                      {"to", "2026-03-01T08:30:00.000Z"},
                      {"limit", 200}};
  EXPECT_EQ(request_sent(daemon), expected);
}

TEST(HistoryOfReadings, CountsTheLastHoursBackFromTheEnd) {
  FakeDaemon daemon{{answer_of("{}"), answer_of("{}")}};
  run_words({"history", "--last", "2h", "--to", "2026-03-01T08:00:00Z", "--state-dir", daemon.dir()});
  EXPECT_EQ(request_sent(daemon)["from"], "2026-03-01T06:00:00.000Z");
  run_words({"history", "--state-dir", daemon.dir()});
  const auto by_default = json::parse(daemon.requests().at(1), nullptr, false);
  EXPECT_EQ(at(by_default["to"].get<std::string>()) - at(by_default["from"].get<std::string>()), std::chrono::hours{1});
  EXPECT_EQ(by_default["limit"], 1000);
}

TEST(HistoryOfAlarms, ShowsWhoDidWhatAndWhy) {
  AlarmHistory history;
  history.records.push_back({.at = at("2026-03-01T08:10:00.000Z"),
                             .sequence = 17,
                             .room = "cryo-annexe",
                             .alarm = "low-oxygen",
                             .event = "transition",
                             .from = alarms::State::unacknowledged,
                             .to = alarms::State::acknowledged,
                             .cause = "acknowledge",
                             .author = "R. Okafor",
                             .comment = "fan on",
                             .value = 0.192,
                             .expanded = 0.003,
                             .limit = 0.195,
                             .unit = "/",
                             .text = "LOW OXYGEN"});
  FakeDaemon daemon{{answer_of(history_payload(history))}};
  const auto got = run_words({"history", "alarms", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_NE(got.out.find("17      cryo-annexe/low-oxygen  transition  unacknowledged  acknowledged  acknowledge  R. "
                         "Okafor  19.20 %  19.50 %  fan on\n"),
            std::string::npos)
      << got.out;
  EXPECT_NE(got.out.find("\n1 record\n"), std::string::npos);
}

TEST(HistoryOfAlarms, ShowsWhatHappenedToARoomWithoutStates) {
  AlarmHistory history;
  history.records.resize(1);
  auto& line = history.records[0];
  line.at = at("2026-03-01T08:00:00.000Z");
  line.room = "pear-store-2";
  line.event = "entry-lock-withheld";
  line.text = "The entry lock of pear-store-2 is withheld: the room is not monitored.";
  FakeDaemon daemon{{answer_of(history_payload(history))}};
  const auto got = run_words({"history", "alarms", "--state-dir", daemon.dir()});
  EXPECT_NE(got.out.find("pear-store-2  entry-lock-withheld  -     -   -"), std::string::npos) << got.out;
  EXPECT_NE(got.out.find("The entry lock of pear-store-2 is withheld: the room is not monitored.\n"), std::string::npos)
      << got.out;
}

TEST(History, RefusesAWrongCommandLine) {
  struct Row {
    std::vector<std::string> words;
    std::string message;
  };
  const std::vector<Row> table{
      {{"alarm"}, "there is no history of \"alarm\"; did you mean \"alarms\"?"},
      {{"readings", "alarms"}, "name one of readings and alarms"},
      {{"--last", "2"}, "--last: \"2\" has no unit; write a duration such as \"5 s\""},
      {{"--last", "-2h"}, "--last: write a duration such as \"2h\""},
      {{"--last", "2h", "--from", "2026-03-01T08:00:00Z"}, "--last and --from exclude each other"},
      {{"--from", "yesterday"},
       "--from: \"yesterday\" is not a time; write it with its offset, such as \"2026-03-01T08:00:00+01:00\" or "
       "\"2026-03-01T07:00:00Z\""},
      {{"--from", "2026-03-01T08:00:00Z", "--to", "2026-03-01T07:00:00Z"},
       "the start lies after the end: nothing can be in between"},
      {{"--limit", "0"}, "--limit: \"0\" is not a whole number from 1 to 100000"},
      {{"--limit", "1e3"}, "--limit: \"1e3\" is not a whole number from 1 to 100000"},
      {{"alarms", "--sensor", "cell-a"}, "--sensor belongs to `history readings`"},
      {{"alarms", "--as-recorded"}, "--as-recorded belongs to `history readings`: the alarm journal is never changed"},
      {{"--csv", "--json"}, "--csv and --json exclude each other"},
      {{"readings", "--alarm", "low-oxygen"}, "--alarm belongs to `history alarms`"}};
  for (const auto& row : table) {
    auto words = row.words;
    words.insert(words.begin(), "history");
    const auto got = run_words(words);
    EXPECT_EQ(got.code, cli::usage) << row.message;
    EXPECT_EQ(got.err, "oxherd history: " + row.message + '\n');
  }
}

TEST(History, ReadsTheFilesThatADaemonLeft) {
  const cli_test::TemporaryDirectory state;
  {
    const auto store = store_test::open_store(state.path());
    ASSERT_TRUE(store);
    ReadingRecord reading;
    reading.at = at("2026-03-01T08:00:00Z");
    reading.room = "cryo-annexe";
    reading.sensor = "air";
    reading.pressure_Pa = 98600.0;
    store->reading(reading);
    ASSERT_TRUE(store_test::committed(*store));
  }
  const auto got = run_words({"history", "--json", "--from", "2026-03-01T07:00:00Z", "--to", "2026-03-01T09:00:00Z",
                              "--state-dir", state.path().string()});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_EQ(got.err,
            "oxherd history: no daemon answers in " + state.path().string() + ": these are the records it left\n");
  const auto answer = json::parse(got.out, nullptr, false);
  ASSERT_EQ(answer["readings"].size(), 1U) << got.out;
  EXPECT_EQ(answer["readings"][0]["at"], "2026-03-01T08:00:00.000Z");
  EXPECT_DOUBLE_EQ(answer["readings"][0]["pressure_kpa"].get<double>(), 98.6);
}

TEST(History, WithoutDaemonAndWithoutRecordsSaysBoth) {
  const cli_test::TemporaryDirectory empty;
  const auto got = run_words({"history", "--state-dir", empty.path().string()});
  EXPECT_EQ(got.code, cli::no_daemon);
  EXPECT_TRUE(got.err.starts_with("oxherd history: no oxherd daemon answers in " + empty.path().string())) << got.err;
  EXPECT_EQ(std::ranges::count(got.err, '\n'), 1);
}

} // namespace oxherd::daemon::history_test
