#include <gtest/gtest.h>

#include "config/response_time.hpp"
#include "tests/config/sample.hpp"

namespace oxherd::larkfield_test {

using namespace std::chrono_literals;

const config::Settings& larkfield() {
  static const config::Settings settings = [] {
    const auto file = std::filesystem::path{OXHERD_SOURCE_DIR} / "demo" / "larkfield.toml";
    auto loaded = config::load(file, config_test::shipped());
    if (!loaded) {
      for (const auto& problem : loaded.error()) ADD_FAILURE() << to_string(problem);
      return config::Settings{};
    }
    for (const auto& problem : loaded->warnings) ADD_FAILURE() << to_string(problem);
    return std::move(loaded->settings);
  }();
  return settings;
}

TEST(Larkfield, LoadsWithoutAnErrorOrAWarningAndKeepsTheOrderOfTheFile) {
  ASSERT_EQ(larkfield().rooms.size(), 4U);
  EXPECT_EQ(larkfield().rooms[0].name, "cryo-annexe");
  EXPECT_EQ(larkfield().rooms[1].name, "growth-chamber-1");
  EXPECT_EQ(larkfield().rooms[2].name, "pear-store-2");
  EXPECT_EQ(larkfield().rooms[3].name, "bay-3");
  EXPECT_EQ(larkfield().site.name, "larkfield");
  EXPECT_DOUBLE_EQ(larkfield().site.elevation.si(), 212.0);
  EXPECT_EQ(larkfield().site.barometer, "cryo-annexe/air");
  ASSERT_TRUE(larkfield().mqtt);
  EXPECT_EQ(larkfield().mqtt->broker, "mqtt://127.0.0.1:1883");
  EXPECT_EQ(larkfield().mqtt->client_id, "oxherd-larkfield");
}

TEST(Larkfield, HasItsTwoBuses) {
  ASSERT_EQ(larkfield().buses.size(), 2U);
  const auto* tcp = std::get_if<drivers::TcpAddress>(&larkfield().buses[0].address);
  ASSERT_NE(tcp, nullptr);
  EXPECT_EQ(tcp->host, "127.0.0.1");
  EXPECT_EQ(tcp->port, 1502);
  const auto* line = std::get_if<drivers::SerialLine>(&larkfield().buses[1].address);
  ASSERT_NE(line, nullptr);
  EXPECT_EQ(line->baud, 19200);
  EXPECT_EQ(line->parity, drivers::Parity::none);
}

TEST(Larkfield, VotesTwoOutOfThreeInTheAnnexe) {
  ASSERT_FALSE(larkfield().rooms.empty());
  const auto& room = larkfield().rooms[0];
  EXPECT_EQ(room.oxygen_vote, alarms::Scheme::two_of_three);
  ASSERT_EQ(room.sensors.size(), 4U);
  const auto& cell = room.sensors[0];
  EXPECT_EQ(cell.unit, 11);
  EXPECT_EQ(cell.every, 1s);
  ASSERT_EQ(cell.map.points.size(), 1U);
  EXPECT_EQ(cell.map.points[0].encoding, drivers::Encoding::float32);
  EXPECT_DOUBLE_EQ(cell.map.points[0].si_scale, 1e-3);
  ASSERT_EQ(cell.map.status.size(), 2U);
  ASSERT_EQ(cell.status.size(), 2U);
  EXPECT_EQ(cell.status[0].status, alarms::Status::failure);
  EXPECT_EQ(cell.status[1].status, alarms::Status::maintenance_required);
  ASSERT_TRUE(cell.cell);
  EXPECT_EQ(cell.cell->serial, "LK-0007");
  ASSERT_TRUE(cell.calibration);
  EXPECT_DOUBLE_EQ(cell.calibration->calibration.span.signal.value.si(), 12.6e-3);
  EXPECT_DOUBLE_EQ(cell.calibration->calibration.zero.value.si(), 0.4e-3);
}

TEST(Larkfield, WritesTwoRelaysAHornABeaconAndAHeartbeat) {
  ASSERT_EQ(larkfield().outputs.size(), 5U);
  EXPECT_EQ(std::get<config::AlarmRelay>(larkfield().outputs[0].kind).room, "cryo-annexe");
  EXPECT_EQ(std::get<config::AlarmRelay>(larkfield().outputs[1].kind).coil, 1);
  EXPECT_EQ(std::get<config::Heartbeat>(larkfield().outputs[4].kind).holding_register, 10);
  EXPECT_EQ(config::written_at(larkfield().outputs[2].kind), (config::WrittenAt{true, 2}));
  EXPECT_TRUE(config::rooms_of(larkfield().outputs[3].kind).empty()) << "of the whole site";
}

TEST(Larkfield, AnnouncesLowOxygenWithinThirtySecondsWherePeopleWork) {
  ASSERT_FALSE(larkfield().rooms.empty());
  const auto& room = larkfield().rooms[0];
  ASSERT_EQ(room.alarms.front().name, "low-oxygen");
  // 20 s response, 1 s poll, 3 s on-delay, 0.5 s tick.
  EXPECT_EQ(config::time_to_announce(room, room.alarms.front()), 24500ms);
  EXPECT_EQ(config::time_to_announce(room, room.alarms.back()), std::nullopt); // not monitored: no limit
}

// The file in the design of the settings: every kind of table once, written as a technician would.
TEST(DesignedExample, LoadsWithOnlyTheWarningThatTwoCellsAreMissingFromTheVote) {
  constexpr std::string_view designed = R"(
[site]
name = "larkfield"
elevation = "212 m"

[mqtt]
broker = "mqtt://127.0.0.1:1883"

[bus.plant]
kind = "modbus-tcp"
address = "127.0.0.1:1502"
timeout = "500 ms"

[room.cryo-annexe]
regime = "occupied"
oxygen_vote = "2oo3"

[room.cryo-annexe.sensor.cell-a]
measures = "oxygen"
bus = "plant"
unit = 11                                # Modbus unit identifier
profile = "millivolts-float32"           # a reusable register map, shipped or the site's own
every = "1 s"
cell = { model = "concentration", zero = "0.4 mV", serial = "LK-0007" }
calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "99.8 kPa" }

[room.cryo-annexe.sensor.air]
measures = ["temperature", "humidity", "pressure"]
bus = "plant"
unit = 21
profile = "ambient-int16"

[room.cryo-annexe.alarm.low-oxygen]
quantity = "oxygen"
below = "19.5 %"
deadband = "0.3 %"
on_delay = "5 s"
priority = "critical"
)";
  EXPECT_EQ(
      config_test::said_about(designed),
      (std::vector<std::string>{
          R"(site.toml:16:15: room.cryo-annexe.oxygen_vote: "2oo3" is a vote of 3, but the room has 1 oxygen sensor; "1oo1" fits)"}));
  EXPECT_EQ(config_test::said_about(config_test::with("oxygen_vote = \"2oo3\"", "", designed)),
            std::vector<std::string>{});
}

TEST(SoundSample, HasNothingToComplainAbout) {
  EXPECT_EQ(config_test::said_about(config_test::sound), std::vector<std::string>{});
}

} // namespace oxherd::larkfield_test
