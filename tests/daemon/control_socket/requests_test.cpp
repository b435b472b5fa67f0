#include <gtest/gtest.h>

#include "daemon/control_socket/requests.hpp"

namespace oxherd::daemon::requests_test {

TEST(Request, ReadsTheCommandsThatPeopleGive) {
  EXPECT_TRUE(std::holds_alternative<StatusRequest>(parse_request(R"({"command":"status"})").value()));
  EXPECT_TRUE(std::holds_alternative<AlarmsRequest>(parse_request(R"({"command":"alarms"})").value()));
  const auto act = parse_request(
      R"({"command":"act","act":"reset","room":"bay-3","alarm":"high-co2","author":"mira","comment":"inspected"})");
  ASSERT_TRUE(act);
  const auto& a = std::get<ActRequest>(*act);
  EXPECT_EQ(a.act.act, alarms::Act::reset);
  EXPECT_EQ(a.room + "/" + a.alarm + " " + a.act.author + " " + a.act.comment, "bay-3/high-co2 mira inspected");
}

TEST(Request, ReadsWhatIsAskedOfTheTellingOfPeople) {
  const auto show = parse_request(R"({"command":"notify"})");
  ASSERT_TRUE(show) << show.error();
  EXPECT_EQ(std::get<NotifyRequest>(*show).what, NotifyRequest::What::show);
  const auto test = parse_request(R"({"command":"notify","what":"test","contact":"okafor"})");
  ASSERT_TRUE(test) << test.error();
  EXPECT_EQ(std::get<NotifyRequest>(*test).contact, "okafor");
  const auto answer = parse_request(R"({"command":"notify","what":"answer","number":17,"author":"mira"})");
  ASSERT_TRUE(answer) << answer.error();
  EXPECT_EQ(std::get<NotifyRequest>(*answer).number, 17);
  for (const auto* wrong :
       {R"({"command":"notify","what":"answer","number":17,"author":""})",
        R"({"command":"notify","what":"answer","number":"17","author":"mira"})",
        R"({"command":"notify","what":"answer","number":17,"author":"a\nb"})", R"({"command":"notify","what":"page"})"})
    EXPECT_FALSE(parse_request(wrong)) << wrong;
}

TEST(Request, ReadsTheTimeThatAnActAsksFor) {
  const auto shelve = parse_request(R"({"command":"act","act":"shelve_once","room":"bay-3","alarm":"high-co2",
      "author":"mira","comment":"dosing trial","duration_s":1800})");
  ASSERT_TRUE(shelve) << shelve.error();
  EXPECT_EQ(std::get<ActRequest>(*shelve).act.act, alarms::Act::shelve_once);
  EXPECT_EQ(std::get<ActRequest>(*shelve).act.duration, std::chrono::minutes{30});
  for (const auto* wrong : {"-1", "1e9", "\"30 min\"", "null", "true"})
    EXPECT_FALSE(parse_request(std::string{R"({"command":"act","act":"shelve","room":"bay-3","alarm":"high-co2",
        "author":"mira","duration_s":)"} +
                               wrong + "}"))
        << wrong;
}

TEST(Request, ReadsTheStepsOfAProofTest) {
  const auto begun =
      parse_request(R"({"command":"prove","step":"begin","output":"horn","author":"mira","duration_s":20})");
  ASSERT_TRUE(begun) << begun.error();
  EXPECT_EQ(std::get<ProveRequest>(*begun).output, "horn");
  EXPECT_EQ(std::get<ProveRequest>(*begun).step, ProveRequest::Step::begin);
  EXPECT_EQ(std::get<ProveRequest>(*begun).duration, std::chrono::seconds{20});
  const auto failed =
      parse_request(R"({"command":"prove","step":"failed","output":"horn","author":"mira","comment":"too dim"})");
  ASSERT_TRUE(failed) << failed.error();
  EXPECT_EQ(std::get<ProveRequest>(*failed).step, ProveRequest::Step::failed);
  EXPECT_EQ(std::get<ProveRequest>(*failed).comment, "too dim");
  for (const auto* wrong : {R"({"command":"prove","step":"perhaps","output":"horn","author":"mira"})",
                            R"({"command":"prove","step":"begin","author":"mira"})",
                            R"({"command":"prove","step":"begin","output":"horn"})",
                            R"({"command":"prove","step":"begin","output":"horn","author":"mira","duration_s":-1})"})
    EXPECT_FALSE(parse_request(wrong)) << wrong;
}

TEST(Request, ReadsAHistoryWithItsSpanAndLimit) {
  const auto request = parse_request(R"({"command":"history","what":"readings","room":"bay-3",
      "from":"2026-03-01T08:00:00Z","to":"2026-03-01T10:00:00+01:00","limit":50})");
  ASSERT_TRUE(request);
  const auto& h = std::get<HistoryRequest>(*request);
  EXPECT_FALSE(h.of_alarms);
  EXPECT_EQ(h.query.room, "bay-3");
  EXPECT_FALSE(h.query.sensor);
  EXPECT_EQ(h.query.limit, 50);
  EXPECT_EQ(h.query.to - h.query.from, std::chrono::hours{1});
}

TEST(Request, AsksForFirstValuesOnlyWhenItSaysSo) {
  const auto with = [](const std::string& more) {
    return parse_request(R"({"command":"history","what":"readings","from":"2026-03-01T08:00:00Z",
      "to":"2026-03-01T09:00:00Z")" +
                         more + "}");
  };
  EXPECT_FALSE(std::get<HistoryRequest>(with("").value()).query.as_recorded);
  EXPECT_TRUE(std::get<HistoryRequest>(with(R"(,"as_recorded":true)").value()).query.as_recorded);
  EXPECT_EQ(with(R"(,"as_recorded":1)").error(), "as_recorded is true or false");
}

TEST(Request, ReadsAnAlarmReportWithItsTimeWhichMustNotBeEmpty) {
  const auto with = [](const std::string& to) {
    return parse_request(R"({"command":"alarm_report","room":"bay-3","from":"2026-03-01T08:00:00Z","to":")" + to +
                         "\"}");
  };
  const auto request = with("2026-03-01T10:00:00+01:00");
  ASSERT_TRUE(request) << request.error();
  const auto& query = std::get<AlarmReportRequest>(*request).query;
  EXPECT_EQ(query.room, "bay-3");
  EXPECT_EQ(query.to - query.from, std::chrono::hours{1});
  for (const auto* wrong : {"2026-03-01T08:00:00Z", "2026-03-01T07:00:00Z", "tomorrow", ""}) EXPECT_FALSE(with(wrong));
}

TEST(Request, RefusesAnActWithoutANamedPerson) {
  const auto request = parse_request(R"({"command":"act","act":"acknowledge","room":"bay-3","alarm":"high-co2"})");
  ASSERT_FALSE(request);
  EXPECT_NE(request.error().find("name of the person"), std::string::npos);
}

TEST(Request, RefusesWhatItDoesNotUnderstandWithWhatItWould) {
  const char* lines[] = {"",
                         "status",
                         "[]",
                         "{}",
                         R"({"command":"open-vent"})",
                         R"({"command":"act","act":"shout"})",
                         R"({"command":"history","what":"weather"})",
                         R"({"command":"history","what":"alarms","from":"yesterday","to":"now"})",
                         R"({"command":"history","what":"alarms","from":"2026-03-01T08:00:00Z",
                             "to":"2026-03-01T08:00:00Z","limit":0})"};
  for (const char* line : lines) {
    SCOPED_TRACE(line);
    const auto request = parse_request(line);
    ASSERT_FALSE(request);
    EXPECT_FALSE(request.error().empty());
  }
  EXPECT_NE(parse_request(R"({"command":"open-vent"})")
                .error()
                .find("status, alarms, act, regime, control, prove, history, trend, alarm_report, recorded, explain, "
                      "calibrations, certificate, calibrate or notify"),
            std::string::npos);
}

TEST(Request, RefusesNestingThatWouldExhaustTheStack) { EXPECT_FALSE(parse_request(std::string(100000, '['))); }

TEST(Request, EscapesWhatItDeclines) {
  EXPECT_EQ(declined("refused", "say \"why\"\n"), R"({"error":"say \"why\"\n","kind":"refused","ok":false})");
}

TEST(RegimeRequest, NamesRoomRegimeAndPerson) {
  const auto request = parse_request(R"({"command":"regime","room":"pear-store-2","regime":"sealed-low-oxygen",)"
                                     R"("author":"R. Okafor","comment":"pull-down","seen_empty":true})");
  ASSERT_TRUE(request) << request.error();
  const auto& stated = std::get<RegimeRequest>(*request);
  EXPECT_EQ(stated.room, "pear-store-2");
  EXPECT_EQ(stated.act.regime, alarms::Regime::sealed_low_oxygen);
  EXPECT_EQ(stated.act.author, "R. Okafor");
  EXPECT_EQ(stated.act.comment, "pull-down");
  EXPECT_TRUE(stated.act.seen_empty);
}

TEST(RegimeRequest, IsRefusedWithoutWhatTheJournalNeeds) {
  const auto said = [](const std::string& members) {
    const auto request = parse_request(R"({"command":"regime")" + members + "}");
    return request ? std::string{} : request.error();
  };
  EXPECT_NE(said(R"(,"room":"a","regime":"sealed","author":"X")").find("\"sealed\" is no regime"), std::string::npos);
  EXPECT_EQ(said(R"(,"regime":"occupied","author":"X")"), "a regime needs a room");
  EXPECT_NE(said(R"(,"room":"a","regime":"occupied")").find("the name of the person"), std::string::npos);
  EXPECT_EQ(said(R"(,"room":"a","regime":"occupied","author":"X","seen_empty":"yes")"), "seen_empty is true or false");
}

} // namespace oxherd::daemon::requests_test
