#include "daemon/http/message.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

// Requests taken apart, and answers put together.
namespace oxherd::http_message_test {

using namespace daemon::http;
using Parts = std::vector<std::string>;

HttpRequest target(std::string_view text) {
  HttpRequest request;
  EXPECT_TRUE(parse_target(text, request)) << text;
  return request;
}

bool refused(std::string_view text) {
  HttpRequest request;
  return !parse_target(text, request);
}

TEST(ATarget, IsTakenApartAndDecoded) {
  EXPECT_EQ(target("/").path, Parts{});
  EXPECT_EQ(target("/api/rooms/bay-3").path, (Parts{"api", "rooms", "bay-3"}));
  EXPECT_EQ(target("//api//alarms/").path, (Parts{"api", "alarms"})) << "empty segments mean nothing";
  EXPECT_EQ(target("/%61pi/r%C3%A9gime").path, (Parts{"api", "r\xC3\xA9gime"}));
  const auto asked = target("/api/history/alarms?room=bay-3&from=2026-03-01T08%3A00%3A00%2B01:00&comment=a+b&empty=");
  EXPECT_EQ(asked.path, (Parts{"api", "history", "alarms"}));
  EXPECT_EQ(asked.parameter("room"), "bay-3");
  EXPECT_EQ(asked.parameter("from"), "2026-03-01T08:00:00+01:00");
  EXPECT_EQ(asked.parameter("comment"), "a b");
  EXPECT_EQ(asked.parameter("empty"), "");
  EXPECT_EQ(asked.parameter("none"), "");
}

TEST(ATarget, IsRefusedWhereABrowserWouldNeverSendIt) {
  for (const auto* text : {"", "api", "http://other/", "/%", "/%4", "/%zz", "/a%00b", "/a%0d%0aX: y", "/../etc/passwd",
                           "/api/%2e%2e/x", "/?a=1&a=2", "/?%=1", "/?a=%0a"})
    EXPECT_TRUE(refused(text)) << text;
}

TEST(ACookie, IsFoundAmongOthersByItsWholeName) {
  HttpRequest request;
  request.headers["cookie"] = "xoxherd-session=no; oxherd-session-old=no; oxherd-session=abc; theme=dark";
  EXPECT_EQ(request.cookie("oxherd-session"), "abc");
  EXPECT_EQ(request.cookie("theme"), "dark");
  EXPECT_EQ(request.cookie("session"), "");
  EXPECT_EQ(HttpRequest{}.cookie("oxherd-session"), "");
}

// RFC 9457, 3.1: the members and the media type.
TEST(AProblem, SaysWhatIsWrongInTheMembersOfTheStandard) {
  const auto answer = problem(404, "there is no room \"bay-4\"");
  EXPECT_EQ(answer.status, 404);
  EXPECT_EQ(answer.type, "application/problem+json");
  const auto body = nlohmann::json::parse(answer.body);
  EXPECT_EQ(body["type"], "about:blank");
  EXPECT_EQ(body["title"], "Not Found");
  EXPECT_EQ(body["status"], 404);
  EXPECT_EQ(body["detail"], "there is no room \"bay-4\"");
}

TEST(TheWireForm, HasLengthPolicyAndNoBodyWhereNoneBelongs) {
  const HttpResponse answer{200, "text/plain", "running\n", {}};
  const auto whole = wire_form(answer, false, false);
  EXPECT_TRUE(whole.starts_with("HTTP/1.1 200 OK\r\n")) << whole;
  EXPECT_NE(whole.find("Content-Length: 8\r\n"), std::string::npos);
  EXPECT_NE(whole.find("Content-Security-Policy: default-src 'none';"), std::string::npos);
  EXPECT_NE(whole.find("Cache-Control: no-store\r\n"), std::string::npos);
  EXPECT_TRUE(whole.ends_with("\r\n\r\nrunning\n"));
  EXPECT_TRUE(wire_form(answer, true, true).ends_with("Connection: close\r\n\r\n"));
  const HttpResponse unchanged{304, "application/json", "", {{"Cache-Control", "no-cache"}}};
  const auto short_form = wire_form(unchanged, false, false);
  EXPECT_EQ(short_form.find("Content-Length"), std::string::npos);
  EXPECT_EQ(short_form.find("no-store"), std::string::npos) << "its own word holds";
}

} // namespace oxherd::http_message_test
