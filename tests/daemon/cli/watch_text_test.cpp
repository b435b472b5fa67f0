#include "daemon/cli/watch_text.hpp"

#include <algorithm>
#include <sstream>
#include <vector>

#include <gtest/gtest.h>

#include "alarms/texts.hpp"
#include "daemon/cli/screen.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::watch_text_test {

using namespace std::chrono_literals;
using cli::Watched;
using nlohmann::json;

std::ostringstream sink;
const cli::Console plain{sink, sink, false};
const cli::Console colourful{sink, sink, true, true};
const WallTime start = *parse_rfc3339("2026-03-01T08:15:00Z");

json sensor_named(std::string_view name, std::string_view quality) {
  return {{"sensor", name},     {"measures", {"oxygen"}}, {"status", quality == "good" ? "ok" : "failure"},
          {"quality", quality}, {"age_s", 0.8},           {"last", {{"dry_fraction", 0.2041}, {"raw_mv", 11.9}}}};
}

json room_named(std::string_view name, bool monitored = true) {
  return {{"room", name},
          {"regime", "occupied"},
          {"monitored", monitored},
          {"reason", monitored ? "" : "cell: no answer"},
          {"dry_fraction", 0.2041},
          {"alarms", json::array()},
          {"sensors", {sensor_named("cell", monitored ? "good" : "bad")}}};
}

/// Not `json`: one room in braces would be taken for the list by one compiler and for the room by another.
json status_with(const std::vector<json>& rooms) {
  return {{"site", "larkfield"},
          {"version", "0.1.0"},
          {"started", "2026-03-01T06:00:00.000Z"},
          {"now", "2026-03-01T08:15:00.000Z"},
          {"rooms", rooms},
          {"store", {{"writing", true}}}};
}

Watched answered(json status) {
  Watched watched{.begun = start};
  note_answer(watched, std::move(status), start);
  return watched;
}

std::size_t lines_of(const std::string& text) {
  return static_cast<std::size_t>(std::count(text.begin(), text.end(), '\n'));
}

std::size_t widest_of(const std::string& text) {
  std::istringstream in{text};
  std::size_t widest = 0;
  for (std::string line; std::getline(in, line);) widest = std::max(widest, cli::width_of(line));
  return widest;
}

TEST(AWatch, ShowsWhatNeedsAPersonThenTheStatus) {
  const auto text = watch_text(plain, answered(status_with({room_named("bay-3"), room_named("cryo-annexe", false)})));
  const auto at = [&](std::string_view part) { return text.find(part); };
  EXPECT_TRUE(text.starts_with("1 of 2 rooms needs a person: cryo-annexe\nlarkfield, ")) << text;
  EXPECT_LT(at("cryo-annexe (occupied)\n"), at("bay-3 (occupied)\n"));
  EXPECT_TRUE(text.ends_with(cli::wrapped(alarms::caution_short(), 100, 0) + '\n'));
}

TEST(AWatch, CallsNoRoomMoreThanMonitored) {
  const auto text = watch_text(plain, answered(status_with({room_named("bay-3"), room_named("cryo-annexe")})));
  EXPECT_NE(text.find("2 rooms: all monitored, no alarm stands\n"), std::string::npos) << text;
}

TEST(AWatch, TakesEveryNumberAwayOnceTheDaemonIsGone) {
  auto watched = answered(status_with({room_named("cryo-annexe")}));
  ASSERT_NE(watch_text(plain, watched).find("20.41 %"), std::string::npos);
  note_loss(watched, "no oxherd daemon answers in ./state", start + 12s);
  for (const auto& text : {watch_text(plain, watched), screen_text(plain, watched, {100, 30})}) {
    EXPECT_TRUE(text.starts_with("NO ANSWER from the daemon, " + rfc3339_local(start + 12s) +
                                 ": treat the air of every room as unknown.\n"))
        << text;
    EXPECT_NE(text.find(rfc3339_local(start) + " was the last answer, 12 s ago."), std::string::npos) << text;
    EXPECT_NE(text.find("no oxherd daemon answers in ./state\n"), std::string::npos);
    EXPECT_EQ(text.find("20.41"), std::string::npos);
    EXPECT_EQ(text.find("cryo-annexe"), std::string::npos);
    EXPECT_NE(text.find("Supplementary monitor."), std::string::npos);
  }
}

TEST(AWatch, SaysThatNoAnswerEverCame) {
  Watched watched{.begun = start};
  note_loss(watched, "nobody there", start + 3s);
  EXPECT_NE(watch_text(plain, watched).find("None since the watch began at " + rfc3339_local(start) + ", 3 s ago.\n"),
            std::string::npos);
}

TEST(AWatch, ShowsTheNewNumbersWhenTheDaemonIsBack) {
  auto watched = answered(status_with({room_named("cryo-annexe")}));
  note_loss(watched, "nobody there", start + 3s);
  note_answer(watched, status_with({room_named("bay-3")}), start + 4s);
  const auto text = watch_text(plain, watched);
  EXPECT_EQ(text.find("NO ANSWER"), std::string::npos);
  EXPECT_NE(text.find("bay-3"), std::string::npos);
}

TEST(AWatch, CannotBeWrittenOverByWhatTheDaemonSays) {
  Watched watched{.begun = start};
  note_loss(watched, "\x1b[2Jgone", start);
  EXPECT_EQ(watch_text(plain, watched).find('\x1b'), std::string::npos);
}

TEST(AWatch, InJsonHasTheAnswerOrTheLossInALine) {
  const auto status = status_with({room_named("cryo-annexe")});
  auto watched = answered(status);
  EXPECT_EQ(json::parse(watch_json(watched)), status);
  note_loss(watched, "nobody there", start + 2s);
  const auto lost = json::parse(watch_json(watched));
  const json expected{
      {"error", "nobody there"}, {"last_answer", "2026-03-01T08:15:00.000Z"}, {"now", "2026-03-01T08:15:02.000Z"}};
  EXPECT_EQ(lost, expected);
  EXPECT_EQ(lines_of(watch_json(watched)), 1U);
  Watched never{.begun = start};
  note_loss(never, "nobody there", start);
  EXPECT_TRUE(json::parse(watch_json(never))["last_answer"].is_null());
}

TEST(TheTimesToShow, AreTheFirstAndEveryPeriodFromThere) {
  cli::ShowTimes times{5s};
  EXPECT_TRUE(times.is_due(true, 100s));
  EXPECT_FALSE(times.is_due(true, 104999ms));
  EXPECT_TRUE(times.is_due(true, 105s));
  EXPECT_TRUE(times.is_due(true, 111s)) << "late by a second";
  EXPECT_TRUE(times.is_due(true, 115s)) << "the next one is not late for that";
  EXPECT_FALSE(times.is_due(true, 116s));
}

TEST(TheTimesToShow, AreAtOnceWhenTheDaemonGoesOrComes) {
  cli::ShowTimes times{60s};
  EXPECT_TRUE(times.is_due(true, 0s));
  EXPECT_TRUE(times.is_due(false, 1s));
  EXPECT_FALSE(times.is_due(false, 2s));
  EXPECT_TRUE(times.is_due(true, 3s));
  EXPECT_TRUE(times.is_due(true, 60s));
}

TEST(AScreen, IsNeverWiderOrHigherThanTheTerminal) {
  json rooms = json::array();
  for (const auto* name : {"cryo-annexe", "growth-chamber-1", "pear-store-2", "bay-3"})
    rooms.push_back(room_named(name, false));
  for (const auto* console : {&plain, &colourful})
    for (const std::size_t columns : {1U, 20U, 37U, 80U, 200U})
      for (const std::size_t rows : {1U, 5U, 12U, 24U, 100U}) {
        const auto text = screen_text(*console, answered(status_with(rooms)), {columns, rows});
        SCOPED_TRACE(std::to_string(columns) + " x " + std::to_string(rows) + "\n" + text);
        EXPECT_LE(lines_of(text), rows);
        EXPECT_LT(widest_of(text), std::max<std::size_t>(columns, 11)) << "ten columns at least are written";
      }
}

TEST(AScreen, ThatIsTooLowKeepsWhatNeedsAPersonAndTheCautionAndSaysWhatIsCut) {
  const auto watched = answered(status_with({room_named("bay-3"), room_named("cryo-annexe", false)}));
  const auto text = screen_text(plain, watched, {101, 9});
  EXPECT_NE(text.find("1 of 2 rooms needs a person: cryo-annexe\n"), std::string::npos);
  EXPECT_NE(text.find("\ncryo-annexe (occupied)\n"), std::string::npos);
  EXPECT_NE(text.find("NOT MONITORED"), std::string::npos);
  EXPECT_NE(text.find(" lines below: make the window taller\n"), std::string::npos) << text;
  EXPECT_TRUE(text.ends_with(cli::wrapped(alarms::caution_short(), 100, 0) + '\n')) << text;
  EXPECT_EQ(text.find("bay-3 (occupied)"), std::string::npos);
}

TEST(AScreen, ThatIsTooLowLeavesOutTheSensorsOfQuietRoomsFirst) {
  const auto watched = answered(status_with({room_named("bay-3"), room_named("cryo-annexe", false)}));
  const auto whole = screen_text(plain, watched, {101, 100});
  const auto lower = screen_text(plain, watched, {101, lines_of(whole) - 1});
  EXPECT_EQ(lines_of(lower), lines_of(whole) - 1);
  EXPECT_EQ(lower.find("make the window taller"), std::string::npos);
  EXPECT_NE(lower.find("bay-3 (occupied)\n  oxygen 20.41 %"), std::string::npos);
  EXPECT_NE(lower.find("bad: failure"), std::string::npos) << "the sensor of the room that needs a person";
  EXPECT_EQ(lower.find("good"), std::string::npos);
}

TEST(AScreen, EndsAColourThatIsCut) {
  auto room = room_named("cryo-annexe", false);
  room["reason"] = std::string(400, 'x');
  const auto text = screen_text(colourful, answered(status_with(json::array({room}))), {60, 10});
  const auto begun = text.rfind("\x1b[1;");
  ASSERT_NE(begun, std::string::npos);
  EXPECT_NE(text.find("\x1b[0m", begun), std::string::npos);
}

TEST(ADrawing, WritesOverTheLinesBeforeAndClearsWhatIsLeftOfThem) {
  EXPECT_EQ(cli::drawing("one\ntwo\n"), "\x1b[Hone\x1b[K\r\ntwo\x1b[K\x1b[0m\x1b[J");
  EXPECT_EQ(cli::drawing(""), "\x1b[H\x1b[0m\x1b[J");
}

} // namespace oxherd::daemon::watch_text_test
