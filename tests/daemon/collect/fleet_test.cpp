#include "daemon/collect/fleet.hpp"

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

namespace oxherd::daemon::collect::fleet_test {

using namespace std::chrono_literals;
using nlohmann::json;

constexpr SampleTime now{std::chrono::seconds{1'800'000'000}};

FleetRoom room_of_now() {
  FleetRoom room;
  room.site = {"larkfield", "online", now - 1h, now - 2s, now - 3s};
  room.room = "cryo-annexe";
  room.told_json = R"({"room":"cryo-annexe","monitored":true,"reason":"","dry_fraction":0.2093,"u_expanded":0.001,
    "relay_energised":true,"door":"closed","entry_lock":{"withheld":false,"reasons":[],"fresh_for_s":5,"hold_s":900}})";
  room.heard_at = now - 4s;
  room.alarms_json = {R"({"room":"cryo-annexe","alarm":"low-oxygen","state":"normal"})",
                      R"({"room":"cryo-annexe","alarm":"not-monitored","state":"normal"})"};
  room.samples = {{"cell-a", "oxygen", "/", now - 1s, 0.2093, "", 1},
                  {"cell-a", "raw", "V", now - 1s, 0.0113, "", 1},
                  {"cell-a", "temperature", "Cel", now - 60s, 21.0, "", 1}};
  return room;
}

TEST(ARoomOfTheFleet, IsToldAsItsOwnDaemonTellsIt) {
  const auto room = json::parse(fleet_room_json(room_of_now(), now));
  EXPECT_EQ(room["room"], "larkfield/cryo-annexe");
  EXPECT_EQ(room["monitored"], true);
  EXPECT_EQ(room["dry_fraction"], 0.2093);
  EXPECT_EQ(room["alarms"].size(), 2U);
  EXPECT_EQ(room["alarms"][0]["room"], "larkfield/cryo-annexe");
  const auto& cell = room["sensors"][0];
  EXPECT_EQ(cell["status"], "ok");
  EXPECT_EQ(cell["last"]["raw_mv"], 11.3);
  EXPECT_TRUE(cell["last"]["temperature_c"].is_null()) << "of an earlier reading";
  EXPECT_EQ(cell["age_s"], 1.0);
  EXPECT_NE(room["caution"], "");
}

void expect_not_current(const FleetRoom& of, const std::string& word) {
  const auto room = json::parse(fleet_room_json(of, now));
  SCOPED_TRACE(room.dump());
  EXPECT_EQ(room["monitored"], false);
  EXPECT_NE(room["reason"].get<std::string>().find(word), std::string::npos);
  for (const auto* key : {"dry_fraction", "u_expanded", "relay_energised"}) EXPECT_TRUE(room[key].is_null()) << key;
  EXPECT_EQ(room["door"], "unknown");
  EXPECT_EQ(room["entry_lock"]["withheld"], true);
  EXPECT_TRUE(room["sensors"][0]["last"].is_null());
  EXPECT_EQ(room["sensors"][0]["quality"], "bad");
  ASSERT_EQ(room["alarms"].size(), 2U) << "the alarms that stood, and the historian's in place of the daemon's own";
  EXPECT_EQ(room["alarms"][0]["alarm"], "not-monitored");
  EXPECT_EQ(room["alarms"][0]["state"], "unacknowledged");
}

TEST(ARoomOfTheFleet, IsNotMonitoredWhenItsDaemonIsOfflineSilentLateOrSilentOfTheRoom) {
  auto room = room_of_now();
  room.site.status = "offline";
  expect_not_current(room, "offline");
  room = room_of_now();
  room.site.status = "";
  expect_not_current(room, "not known");
  room = room_of_now();
  room.site.heard_at = now - 31s;
  expect_not_current(room, "silent for 31 s");
  room.site.heard_at = std::nullopt;
  expect_not_current(room, "never heard");
  room = room_of_now();
  room.site.beat_at = now - 2h;
  expect_not_current(room, "clocks");
  room.site.beat_at = now + 2h;
  expect_not_current(room, "clocks");
  room = room_of_now();
  room.heard_at = now - 31s;
  expect_not_current(room, "has not told of this room for 31 s");
}

TEST(ARoomOfTheFleet, IsCurrentUntilThirtySecondsHavePassed) {
  auto room = room_of_now();
  room.site.heard_at = room.heard_at = now - 30s;
  room.site.beat_at = now - 30s;
  EXPECT_EQ(why_not_current(room.site, room.heard_at, now), "");
}

} // namespace oxherd::daemon::collect::fleet_test
