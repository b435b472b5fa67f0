#include <nlohmann/json.hpp>

#include "daemon/alarm_report/payload.hpp"
#include "tests/daemon/alarm_report/journal_fixture.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"
#include "tests/daemon/store/store_fixture.hpp"

namespace oxherd::daemon::alarm_report_test {

using cli_test::FakeDaemon;
using cli_test::run_words;
using nlohmann::json;

/// A week with something of everything.
std::vector<AlarmRecord> eventful_week() {
  JournalPage page;
  page.of("cryo-annexe", "low-oxygen", alarms::Priority::critical).comes(-2 * day_s).seen(-2 * day_s + 120);
  page.goes(hour_s, State::acknowledged);
  page.of("pear-store-2", "high-co2");
  for (int i = 0; i < 12; ++i) page.brief(2 * hour_s + i * 20);
  page.line(2 * hour_s + 230, "chattering", State::unacknowledged, State::unacknowledged, "");
  page.line(3 * hour_s, "shelve", State::normal, State::shelved, "shelve", "A. Lind");
  page.line(5 * hour_s, "transition", State::shelved, State::normal, "timer");
  page.line(5.1 * hour_s, "reset-refused", State::normal, State::normal, "reset", "A. Lind");
  page.line(6 * hour_s, "test", State::normal, State::normal, "test", "R. Okafor");
  page.line(6 * hour_s + 5, "transition", State::normal, State::unacknowledged, "test").seen(6 * hour_s + 9);
  page.of("bay-3", "high-co2").comes(23 * hour_s);
  return page.records;
}

std::string week_payload() {
  const auto period = stretch(0, day_s);
  const std::vector watched{stretch(0, 10 * hour_s), stretch(12 * hour_s, day_s)};
  return alarm_report::report_payload(alarm_report::performance(eventful_week(), period, watched));
}

std::string with_ok(const std::string& result) { return R"({"ok":true,"result":)" + result + "}\n"; }

TEST(AlarmReportCommand, PrintsEachFigureBesideItsRecommendationItsSourceAndAWord) {
  FakeDaemon daemon{{with_ok(week_payload())}};
  const auto got = run_words({"alarm-report", "--state-dir", daemon.dir()});
  ASSERT_EQ(got.code, cli::fine) << got.err;
  const auto has = [&](const std::string& part) {
    EXPECT_NE(got.out.find(part), std::string::npos) << part << "\n" << got.out;
  };
  has("Alarms of the site\n");
  has("Readings were recorded for 22 h of it.\n");
  has("\nNOT WATCHED ");
  has(" (2 h): Oxherd did not run, or\n  recorded nothing.");
  has("13 annunciations: 13 high\n");
  // By hand: 13 in 22 h are 0.0985 in ten minutes.
  has("annunciations in 10 min, average  0.0985   at most 1; 2 can just be managed  EEMUA 191        within\n");
  has("most annunciations in 10 min      12       at most 10                        EEMUA 191        beyond\n");
  has("annunciations in 24 h, average    14.2     about 150; 300 the most           ISA-18.2         too little to "
      "tell\n");
  has("100.0 %  1 % to 5 % at most                ISA-18.2         too little to tell\n");
  has("pear-store-2/high-co2  12             92.3 %\n");
  has("Floods: from more than 10 in 10 min");
  has("Stale: stood longer than 24 h without a break\n");
  has("12 acknowledged: median 2 s, nine in ten within 2 s, longest 2 s\n");
  has("NOT ACKNOWLEDGED at the end: bay-3/high-co2 since ");
  has("shelved  A. Lind  1      2.0\n");
  has("Tests, which count in no other figure: 1 annunciation\n");
  has("R. Okafor  1\n");
  has("reset  1\n");
  has("Supplementary monitor.");
}

TEST(AlarmReportCommand, AsksForTheTimeAndTheRoomThatWereTyped) {
  FakeDaemon daemon{{with_ok("{}"), with_ok("{}")}};
  const auto got = run_words({"alarm-report", "--room", "bay-3", "--from", "2026-03-01T00:00:00+01:00", "--to",
                              "2026-03-08T00:00:00+01:00", "--state-dir", daemon.dir()});
  EXPECT_EQ(got.code, cli::fine) << got.err;
  EXPECT_EQ(json::parse(daemon.requests().at(0)), (json{{"command", "alarm_report"},
                                                        {"from", "2026-02-28T23:00:00.000Z"},
                                                        {"to", "2026-03-07T23:00:00.000Z"},
                                                        {"room", "bay-3"}}));
  run_words({"alarm-report", "--to", "2026-03-08T00:00:00Z", "--state-dir", daemon.dir()});
  EXPECT_EQ(json::parse(daemon.requests().at(1))["from"], "2026-03-01T00:00:00.000Z"); // a week
}

TEST(AlarmReportCommand, GivesTheSameAsOneLineOfJson) {
  FakeDaemon daemon{{with_ok(week_payload())}};
  const auto got = run_words({"alarm-report", "--json", "--state-dir", daemon.dir()});
  const auto result = json::parse(got.out, nullptr, false);
  ASSERT_TRUE(result.is_object()) << got.out;
  EXPECT_EQ(result["watched_s"], 22 * 3600.0);
  EXPECT_EQ(result["gaps"][0]["from"], "2026-03-02T10:00:00.000Z");
  EXPECT_EQ(result["annunciations"]["count"], 13);
  EXPECT_EQ(result["annunciations"]["by_priority"], (json{{"critical", 0}, {"high", 13}, {"medium", 0}, {"low", 0}}));
  EXPECT_EQ(result["figures"][0]["key"], "per_10_min");
  EXPECT_EQ(result["figures"][0]["verdict"], "within");
  EXPECT_EQ(result["stale"][0]["stands"], false);
  EXPECT_EQ(result["hidden"][0]["for_s"], 7200.0);
  EXPECT_EQ(result["test_annunciations"], 1);
  EXPECT_EQ(result["acknowledgement"]["not_acknowledged"][0]["room"], "bay-3");
  EXPECT_NE(result["caution"].get<std::string>().find("Supplementary monitor."), std::string::npos);
}

TEST(AlarmReportCommand, RefusesATimeThatIsNone) {
  const auto got = run_words({"alarm-report", "--last", "soon"});
  EXPECT_EQ(got.code, cli::usage);
  EXPECT_NE(got.err.find("oxherd alarm-report: --last: "), std::string::npos) << got.err;
}

/// What a daemon left: readings every minute of an hour but for ten minutes, and an alarm that came before that hour.
struct LeftRecords {
  LeftRecords() {
    const auto store = store_test::open_store(dir.path());
    for (int minute = 0; minute < 60; ++minute)
      if (minute < 30 || minute >= 40)
        store->reading(store_test::reading_at(after(minute * minute_s), 0.0119, "cell-a", "cryo-annexe"));
    JournalPage page;
    page.of("cryo-annexe", "low-oxygen", alarms::Priority::critical).brief(-4 * day_s).comes(-2 * day_s);
    page.seen(600).of("bay-3", "high-co2").brief(1200);
    for (const auto& record : page.records) {
      auto snapshot = store_test::snapshot(record.to, record.at);
      snapshot.room = record.room;
      snapshot.alarm = record.alarm;
      store->alarm(record, snapshot, {});
    }
    EXPECT_TRUE(store_test::committed_at_last(*store));
  }
  [[nodiscard]] cli_test::Outcome report(std::vector<std::string> more = {}) const {
    std::vector<std::string> words{"alarm-report",         "--from", rfc3339(after(0)), "--to",
                                   rfc3339(after(hour_s)), "--json", "--state-dir",     dir.path().string()};
    words.insert(words.end(), more.begin(), more.end());
    return run_words(words);
  }
  cli_test::TemporaryDirectory dir;
};

TEST(AlarmReportWithoutADaemon, ReadsTheRecordsItLeftBackToWhereEachAlarmWasLastNormal) {
  const LeftRecords left;
  const auto got = left.report();
  ASSERT_EQ(got.code, cli::fine) << got.err;
  EXPECT_NE(got.err.find("this is of the records it left"), std::string::npos);
  const auto result = json::parse(got.out, nullptr, false);
  EXPECT_EQ(result["annunciations"]["count"], 1); // that of bay-3; the other came before
  EXPECT_EQ(result["acknowledgement"]["longest_s"], 2 * day_s + 600);
  EXPECT_EQ(result["stale"][0]["alarm"], "low-oxygen");
  ASSERT_EQ(result["gaps"].size(), 1U);
  EXPECT_EQ(result["gaps"][0]["from"], "2026-03-02T00:30:00.000Z");
  EXPECT_EQ(result["gaps"][0]["to"], "2026-03-02T00:40:00.000Z");
}

TEST(AlarmReportWithoutADaemon, KeepsToTheRoomAndRefusesOneThatNobodyKnows) {
  const LeftRecords left;
  const auto one = json::parse(left.report({"--room", "cryo-annexe"}).out, nullptr, false);
  EXPECT_EQ(one["annunciations"]["count"], 0);
  EXPECT_EQ(one["acknowledgement"]["count"], 1);
  const auto none = left.report({"--room", "cryo-anexe"});
  EXPECT_EQ(none.code, cli::no_daemon);
  EXPECT_NE(none.err.find("nothing was ever recorded of a room \"cryo-anexe\""), std::string::npos) << none.err;
}

TEST(AlarmReportWithoutADaemon, SaysWhatToDoWhereNothingWasEverRecorded) {
  const cli_test::TemporaryDirectory empty;
  const auto got = run_words({"alarm-report", "--state-dir", empty.path().string()});
  EXPECT_EQ(got.code, cli::no_daemon);
  EXPECT_NE(got.err.find("does not exist; give the daemon's --state-dir"), std::string::npos) << got.err;
}

} // namespace oxherd::daemon::alarm_report_test
