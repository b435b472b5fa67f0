#include <gtest/gtest.h>

#include "tests/config/sample.hpp"

// What a room where people are must have, and what it takes to be laxer there.
namespace oxherd::occupied_room_test {

using config_test::said_about;
using config_test::settings_of;
using config_test::sound;
using config_test::with;

constexpr std::string_view limit = "below = \"19.5 %\"";

TEST(OccupiedRoom, TakesALowerLimitWithAReasonAndKeepsTheReason) {
  const auto text = with(limit, "below = \"17 %\"\noverride_reason = \"fire prevention by oxygen reduction\"");
  EXPECT_EQ(said_about(text), std::vector<std::string>{});
  EXPECT_EQ(settings_of(text).rooms.at(0).alarms.at(0).override_reason, "fire prevention by oxygen reduction");
}

TEST(OccupiedRoom, TakesAReasonForAProcessAlarmToo) {
  const auto second = "[room.annexe.alarm.trend]\nquantity = \"oxygen\"\nbelow = \"17 %\"\nclass = \"process\"\n"
                      "override_reason = \"oxygen reduction\"\n\n[output.beacon]";
  const auto text = with("[output.beacon]", second, with(limit, "below = \"19.5 %\"\nclass = \"process\""));
  const auto said = said_about(text);
  ASSERT_EQ(said.size(), 1U);
  EXPECT_EQ(said[0].substr(0, 36), "site.toml:13:7: room.annexe: warning"); // no safety alarm; but no refusal
}

TEST(OccupiedRoom, CountsTheSlowestOfItsSensorsTowardsTheAnnouncement) {
  constexpr std::string_view quick = R"([room.annexe.sensor.cell-b]
measures = "oxygen"
bus = "plant"
unit = 12
profile = "millivolts-float32"
cell = { model = "concentration", zero = "0.4 mV" }
calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" }

[room.annexe.sensor.air])";
  auto text = with("\"occupied\"", "\"occupied\"\noxygen_vote = \"1oo2\"", with("[room.annexe.sensor.air]", quick));
  text = with("unit = 11", "unit = 11\nevery = \"10 s\"", text);
  const auto said = said_about(text);
  ASSERT_EQ(said.size(), 1U);
  EXPECT_NE(said[0].find("may take 33.5 s"), std::string::npos) << said[0];
}

TEST(OccupiedRoom, TakesASecondStageBelowAFirstOneAtThePermittedLimit) {
  const auto second = with("[output.beacon]", "[room.annexe.alarm.leave]\nquantity = \"oxygen\"\nbelow = \"18 %\"\n\n"
                                              "[output.beacon]");
  EXPECT_EQ(said_about(second), std::vector<std::string>{});
}

TEST(OccupiedRoom, DoesNotTakeAProcessAlarmForTheFirstStage) {
  const auto text = with("[output.beacon]",
                         "[room.annexe.alarm.leave]\nquantity = \"oxygen\"\nbelow = \"18 %\"\n\n"
                         "[output.beacon]",
                         with(limit, "below = \"19.5 %\"\nclass = \"process\""));
  EXPECT_EQ(said_about(text),
            (std::vector<std::string>{
                "site.toml:37:9: room.annexe.alarm.leave.below: 18 % is too low a limit where people are: 19.5 % at "
                "least (another alarm may then stand below it), unless an override_reason says why"}));
}

TEST(OccupiedRoom, TakesExactlyTheLimitItself) {
  // 19.5 % must not fall to the rounding of its conversion, nor 5000 ppm below.
  EXPECT_EQ(said_about(sound), std::vector<std::string>{});
  EXPECT_EQ(said_about(with(limit, "below = \"0.195 fraction\"")), std::vector<std::string>{});
  EXPECT_EQ(said_about(with(limit, "below = \"19.49 %\"")).size(), 1U);
}

constexpr std::string_view with_carbon_dioxide = R"([room.annexe.sensor.co2]
measures = "carbon-dioxide"
bus = "plant"
unit = 41
profile = "co2-uint16"

[room.annexe.alarm.high-co2]
quantity = "carbon-dioxide"
above = "LIMIT"

[output.beacon])";

TEST(OccupiedRoom, RefusesMoreThanFiveThousandPpmOfCarbonDioxide) {
  const auto text = with("[output.beacon]", with_carbon_dioxide);
  EXPECT_EQ(said_about(with("LIMIT", "5000 ppm", text)), std::vector<std::string>{});
  EXPECT_EQ(said_about(with("LIMIT", "0.6 %", text)),
            (std::vector<std::string>{
                "site.toml:42:9: room.annexe.alarm.high-co2.above: 6000 ppm is too high a limit where people are: 5000 "
                "ppm at most (another alarm may then stand above it), unless an override_reason says why"}));
}

TEST(Vote, IsAskedForAsSoonAsThereAreTwoSensors) {
  constexpr std::string_view second = R"([room.annexe.sensor.cell-b]
measures = "oxygen"
bus = "plant"
unit = 12
profile = "millivolts-float32"
cell = { model = "concentration", zero = "0.4 mV" }
calibration = { signal = "12.6 mV", temperature = "21 °C", humidity = "45 %", pressure = "98.8 kPa" }

[room.annexe.sensor.air])";
  const auto text = with("[room.annexe.sensor.air]", second);
  EXPECT_EQ(
      said_about(text),
      (std::vector<std::string>{
          R"(site.toml:13:7: room.annexe.oxygen_vote: missing; "1oo1" is a vote of 1, but the room has 2 oxygen sensors; "1oo2" (either trips) or "2oo2" (both must) fits)"}));
  EXPECT_EQ(said_about(with("\"occupied\"", "\"occupied\"\noxygen_vote = \"1oo2\"", text)), std::vector<std::string>{});
  EXPECT_EQ(
      said_about(with("\"occupied\"", "\"occupied\"\noxygen_vote = \"2oo2\"", text)),
      (std::vector<std::string>{
          R"(site.toml:15:15: room.annexe.oxygen_vote: warning: with "2oo2" one sensor that reads too well silences the other; "1oo2" is the safer vote)"}));
}

TEST(Problems, AreAllReportedAtOnceInTheOrderOfTheFile) {
  auto text = with("elevation = \"212 m\"", "elevation = 212");
  text = with("kind = \"modbus-tcp\"", "kind = \"modbus\"", text);
  text = with("unit = 21", "unit = 300", text);
  text = with(limit, "below = \"19.5 kPa\"", text);
  text = with("coil = 0", "coil = -1\ncolour = \"red\"", text);
  const auto said = said_about(text);
  std::vector<std::string> places;
  for (const auto& line : said) places.push_back(line.substr(0, line.find(' ')));
  EXPECT_EQ(places, (std::vector<std::string>{"site.toml:3:13:", "site.toml:6:8:", "site.toml:27:8:", "site.toml:32:9:",
                                              "site.toml:39:8:", "site.toml:40:1:"}));
}

} // namespace oxherd::occupied_room_test
