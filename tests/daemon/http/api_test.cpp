#include "daemon/http/api.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/control_socket/requests.hpp"

// What can be asked over HTTP, by whom, and how answers come back.
namespace oxherd::http_api_test {

using namespace daemon::http;
using daemon::identity::Person;
using daemon::identity::Role;
using nlohmann::json;

const Person mira{"mira", Role::operator_, "token-of-the-page"};

HttpRequest get(std::string_view target) {
  HttpRequest request;
  EXPECT_TRUE(parse_target(target, request));
  return request;
}

HttpRequest post(std::string_view target, std::string body = "{}") {
  auto request = get(target);
  request.method = Method::post;
  request.body = std::move(body);
  request.headers = {{"content-type", "application/json"}, {"oxherd-csrf", "token-of-the-page"}};
  return request;
}

int refusal(const HttpRequest& request, const std::optional<Person>& person, bool anyone = true) {
  const auto asked = question_of(request, person, anyone);
  const auto* answer = std::get_if<HttpResponse>(&asked);
  return answer == nullptr ? 0 : answer->status;
}

/// The line for the decision loop, which must be one that it takes.
json asked(const HttpRequest& request, const std::optional<Person>& person = mira) {
  const auto question = question_of(request, person, true);
  if (const auto* answer = std::get_if<HttpResponse>(&question)) {
    ADD_FAILURE() << answer->status << ' ' << answer->body;
    return {};
  }
  const auto& line = std::get<Question>(question).line;
  EXPECT_TRUE(daemon::parse_request(line)) << line;
  return json::parse(line);
}

TEST(TheApi, AsksTheDecisionLoopWhatThePathNames) {
  EXPECT_EQ(asked(get("/api/site"), std::nullopt), json::parse(R"({"command":"status"})"));
  EXPECT_EQ(asked(get("/api/alarms"))["command"], "alarms");
  EXPECT_EQ(asked(get("/api/calibrations"))["command"], "calibrations");
  EXPECT_EQ(asked(get("/api/notify"))["command"], "notify");
  EXPECT_EQ(asked(get("/api/certificates/7?format=html")),
            json::parse(R"({"command":"certificate","number":7,"as_page":true})"));
  EXPECT_EQ(asked(get("/api/certificates/7"))["as_page"], false);
  EXPECT_EQ(asked(get("/api/history/alarms?room=bay-3&from=2026-03-01T00:00:00Z&to=2026-03-02T00:00:00Z&limit=50")),
            json::parse(R"({"command":"history","what":"alarms","room":"bay-3","from":"2026-03-01T00:00:00Z",
                      "to":"2026-03-02T00:00:00Z","limit":50})"));
  EXPECT_EQ(asked(get("/api/rooms/bay-3/sensors/co2/recorded"))["sensor"], "co2");
  EXPECT_EQ(asked(post("/api/rooms/bay-3/regime", R"({"regime":"occupied","comment":"harvest"})")),
            json::parse(R"({"command":"regime","room":"bay-3","regime":"occupied","comment":"harvest",
                            "author":"mira"})"));
}

TEST(TheApi, OrdersActuatorsAndProgramsByTheirNames) {
  EXPECT_EQ(asked(post("/api/outputs/bay-vents/order",
                       R"({"act":"hold","fraction":0.4,"duration_s":1200,"comment":"heat","room":"x","author":"y"})")),
            json::parse(R"({"command":"control","output":"bay-vents","act":"hold","fraction":0.4,"duration_s":1200,
                            "comment":"heat","author":"mira"})"));
  EXPECT_EQ(asked(post("/api/rooms/growth-chamber-1/loops/heat/order",
                       R"({"act":"program-hold","duration_s":600,"comment":"trial","output":"x"})")),
            json::parse(R"({"command":"control","room":"growth-chamber-1","loop":"heat","act":"program-hold",
                            "duration_s":600,"comment":"trial","author":"mira"})"));
  EXPECT_EQ(asked(post("/api/rooms/growth-chamber-1/loops/heat/order",
                       R"({"act":"tune","low":"20 °C","high":"26 °C","hysteresis":"0.1 K","output_low":0.2,
                           "output_high":0.6,"comment":"new heater","fraction":1})")),
            json::parse(R"({"command":"control","room":"growth-chamber-1","loop":"heat","act":"tune","low":"20 °C",
                            "high":"26 °C","hysteresis":"0.1 K","output_low":0.2,"output_high":0.6,
                            "comment":"new heater","author":"mira"})"));
}

TEST(TheApi, LetsAnEngineerAloneStartOrReleaseWhatMayHarm) {
  const auto worker = Person{"o", Role::operator_, ""}, engineer = Person{"e", Role::engineer, ""};
  const auto ordered = [](const std::string& act) {
    return post("/api/outputs/pear-nitrogen/order", R"({"act":")" + act + R"("})");
  };
  for (const auto* act : {"start", "release"}) {
    EXPECT_EQ(refusal(ordered(act), worker), 403) << act;
    EXPECT_EQ(refusal(ordered(act), engineer), 0) << act;
  }
  for (const auto* act : {"end", "hold", "automatic"}) {
    EXPECT_EQ(refusal(ordered(act), Person{"r", Role::viewer, ""}), 403) << act;
    EXPECT_EQ(refusal(ordered(act), worker), 0) << act;
  }
  const auto program = post("/api/rooms/growth-chamber-1/loops/heat/order", R"({"act":"program-start"})");
  EXPECT_EQ(refusal(program, Person{"r", Role::viewer, ""}), 403);
  EXPECT_EQ(refusal(program, worker), 0);
}

TEST(TheApi, TakesNoOrderFromWhoIsNotKnownNorByACookieThatThePageDidNotUse) {
  auto order = post("/api/outputs/bay-vents/order", R"({"act":"automatic"})");
  EXPECT_EQ(refusal(order, std::nullopt), 401);
  order.headers.erase("oxherd-csrf");
  EXPECT_EQ(refusal(order, mira), 403);
  EXPECT_EQ(refusal(get("/api/outputs/bay-vents/order"), mira), 405);
  EXPECT_EQ(refusal(post("/api/outputs/bay-vents/order", R"({"act":["start"]})"), mira), 0)
      << "the decision loop judges it";
}

TEST(TheApi, TakesTheAuthorFromTheSignInAndNeverFromTheBody) {
  const auto request =
      post("/api/rooms/bay-3/alarms/high-co2/shelve", R"({"author":"somebody else","comment":"x","duration_s":600})");
  EXPECT_EQ(asked(request), json::parse(R"({"command":"act","room":"bay-3","alarm":"high-co2","act":"shelve",
                                            "author":"mira","comment":"x","duration_s":600})"));
  EXPECT_EQ(asked(post("/api/calibrate", R"({"step":"look","room":"r","sensor":"s","author":"else","command":"x"})")),
            json::parse(R"({"command":"calibrate","step":"look","room":"r","sensor":"s","author":"mira"})"));
}

TEST(TheApi, LetsEachRoleDoItsOwn) {
  const auto viewer = Person{"r", Role::viewer, ""}, worker = Person{"o", Role::operator_, ""},
             engineer = Person{"e", Role::engineer, ""};
  const auto acknowledge = post("/api/rooms/a/alarms/b/acknowledge"),
             out = post("/api/rooms/a/alarms/b/remove_from_service"),
             withdraw = post("/api/calibrate", R"({"step":"withdraw"})"), proof = post("/api/outputs/horn/proof");
  EXPECT_EQ(refusal(acknowledge, viewer), 403);
  EXPECT_EQ(refusal(acknowledge, worker), 0);
  for (const auto& request : {out, withdraw, proof}) {
    EXPECT_EQ(refusal(request, worker), 403);
    EXPECT_EQ(refusal(request, engineer), 0);
  }
}

TEST(TheApi, ChangesNothingForWhoHasNotSignedIn) {
  EXPECT_EQ(refusal(post("/api/rooms/a/alarms/b/acknowledge"), std::nullopt), 401);
  EXPECT_EQ(refusal(get("/api/site"), std::nullopt, true), 0);
  EXPECT_EQ(refusal(get("/api/site"), std::nullopt, false), 401);
}

TEST(TheApi, RefusesAChangeByCookieThatThePageDidNotMake) {
  auto forged = post("/api/rooms/a/alarms/b/acknowledge");
  forged.headers.erase("oxherd-csrf");
  EXPECT_EQ(refusal(forged, mira), 403);
  forged.headers["oxherd-csrf"] = "guessed";
  EXPECT_EQ(refusal(forged, mira), 403);
  EXPECT_EQ(refusal(forged, Person{"plc", Role::operator_, ""}), 0) << "a token is never sent by a browser alone";
}

TEST(TheApi, SaysWhatIsWrongWithARequest) {
  EXPECT_EQ(refusal(get("/api/nothing"), mira), 404);
  EXPECT_EQ(refusal(get("/api"), mira), 404);
  EXPECT_EQ(refusal(get("/api/rooms/a/alarms/b/acknowledge"), mira), 405);
  EXPECT_EQ(refusal(post("/api/site"), mira), 405);
  EXPECT_EQ(refusal(post("/api/rooms/a/alarms/b/destroy"), mira), 404);
  EXPECT_EQ(refusal(post("/api/rooms/a/regime", "[1]"), mira), 400);
  EXPECT_EQ(refusal(post("/api/rooms/a/regime", "{"), mira), 400);
  auto form = post("/api/rooms/a/regime");
  form.headers["content-type"] = "application/x-www-form-urlencoded";
  EXPECT_EQ(refusal(form, mira), 415);
  EXPECT_EQ(refusal(get("/api/history/alarms?limit=many"), mira), 400);
  EXPECT_EQ(refusal(get("/api/history/alarms?format=xlsx"), mira), 400);
  EXPECT_EQ(refusal(get("/api/history/alarms?format=html"), mira), 400);
  EXPECT_EQ(refusal(get("/api/certificates/last"), mira), 404);
}

HttpResponse answered(const HttpRequest& request, const std::string& line) {
  return answer_of(request, std::get<Question>(question_of(request, mira, true)), line);
}

// A request that nobody has signed in for is taken apart too.
TEST(TheApi, TakesABodyOfAnyShapeWithoutHarm) {
  EXPECT_EQ(refusal(post("/api/calibrate", R"({"step":1})"), std::nullopt), 401);
  EXPECT_EQ(refusal(post("/api/calibrate", R"({"step":["withdraw"]})"), mira), 0) << "the decision loop judges it";
  const auto nested = [](std::size_t levels) {
    return "{\"a\":" + std::string(levels, '[') + std::string(levels, ']') + "}";
  };
  EXPECT_EQ(refusal(post("/api/explain", nested(30000)), std::nullopt), 400);
  EXPECT_EQ(refusal(post("/api/explain", nested(2)), std::nullopt), 0);
  EXPECT_EQ(asked(post("/api/rooms/a/alarms/b/acknowledge", R"({"comment":"[[[[[[[[[[ {{{{{{{{{{ \" ["})"))["comment"],
            "[[[[[[[[[[ {{{{{{{{{{ \" [");
}

TEST(AnAnswer, IsTheResultItselfOrAProblem) {
  EXPECT_EQ(answered(get("/api/site"), daemon::accepted(R"({"a":1})")).body, R"({"a":1})");
  const auto refused = answered(post("/api/rooms/a/alarms/b/reset"), daemon::declined("refused", "not yet"));
  EXPECT_EQ(refused.status, 409);
  EXPECT_EQ(json::parse(refused.body)["detail"], "not yet");
  EXPECT_EQ(answered(get("/api/site"), daemon::declined("unknown", "x")).status, 404);
  EXPECT_EQ(answered(get("/api/site"), daemon::declined("malformed", "x")).status, 400);
  EXPECT_EQ(answered(get("/api/site"), daemon::declined("none", "x")).status, 404);
  EXPECT_EQ(answered(get("/api/site"), daemon::declined("busy", "x")).status, 503);
  EXPECT_EQ(answered(get("/api/site"), daemon::declined("internal", "x")).status, 500);
  EXPECT_EQ(answered(get("/api/site"), "rubbish").status, 500);
}

TEST(AnAnswer, IsNotSentAgainToWhoHasIt) {
  const auto line = daemon::accepted(R"({"a":1})");
  const auto first = answered(get("/api/site"), line);
  ASSERT_EQ(first.headers.at(0).first, "ETag");
  auto again = get("/api/site");
  again.headers["if-none-match"] = first.headers.at(0).second;
  EXPECT_EQ(answered(again, line).status, 304);
  EXPECT_EQ(answered(again, line).body, "");
  EXPECT_EQ(answered(again, daemon::accepted(R"({"a":2})")).status, 200);
}

// RFC 4180: CRLF, quotes doubled, a head.
TEST(AnExport, IsCsvOrOneJsonObjectALine) {
  const auto line = daemon::accepted(
      R"({"truncated":true,"alarms":[{"at":"t1","text":"say \"so\", twice","value":null},{"at":"t2","text":"b","value":0.195}]})");
  const auto csv = answered(get("/api/history/alarms?format=csv"), line);
  EXPECT_EQ(csv.body, "at,text,value\r\nt1,\"say \"\"so\"\", twice\",\r\nt2,b,0.195\r\n");
  EXPECT_EQ(csv.type, "text/csv; charset=utf-8; header=present");
  EXPECT_EQ(csv.headers.at(0), (std::pair<std::string, std::string>{"Oxherd-Truncated", "true"}));
  auto lines = get("/api/history/alarms");
  lines.headers["accept"] = "application/x-ndjson";
  EXPECT_EQ(answered(lines, line).body, "{\"at\":\"t1\",\"text\":\"say \\\"so\\\", twice\",\"value\":null}\n"
                                        "{\"at\":\"t2\",\"text\":\"b\",\"value\":0.195}\n");
}

TEST(ACertificate, IsADocumentWithStylesOfItsOwnAndWithoutScripts) {
  const auto page = answered(get("/api/certificates/7?format=html"), daemon::accepted(R"({"html":"<!doctype html>"})"));
  EXPECT_EQ(page.type, "text/html; charset=utf-8");
  EXPECT_EQ(page.body, "<!doctype html>");
  const auto text = wire_form(page, false, false);
  EXPECT_NE(text.find("Content-Security-Policy: default-src 'none'; style-src 'unsafe-inline';"), std::string::npos);
  EXPECT_EQ(text.find("script-src"), std::string::npos) << "one policy, its own";
  EXPECT_EQ(answered(get("/api/certificates/7?format=html"), daemon::accepted("{}")).status, 500);
}

// RFC 8288
TEST(AnAnswer, ThatWasCutSaysWhereTheRestIs) {
  const auto link = [](const std::string& target, const std::string& result) -> std::string {
    for (const auto& [name, value] : answered(get(target), daemon::accepted(result)).headers)
      if (name == "Link") return value;
    return "";
  };
  const std::string target = "/api/history/alarms?room=bay%203&from=2026-03-01T00:00:00%2B01:00&limit=2&before=90";
  const std::string cut = R"({"truncated":true,"next":41,"alarms":[]})";
  EXPECT_EQ(link(target, cut), "</api/history/alarms?from=2026-03-01T00%3A00%3A00%2B01%3A00&limit=2&room=bay%203"
                               "&before=41>; rel=\"next\"");
  EXPECT_TRUE(link(target + "&format=csv", cut).ends_with("&before=41>; rel=\"next\""));
  EXPECT_EQ(link(target, R"({"truncated":false,"next":null,"alarms":[]})"), "");
  EXPECT_EQ(asked(get(target + "&to=2026-03-02T00:00:00Z"))["before"], 90);
  EXPECT_EQ(refusal(get("/api/history/alarms?before=soon"), mira), 400);
}

} // namespace oxherd::http_api_test
