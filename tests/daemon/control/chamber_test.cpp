// Loops of a growth chamber: set-points of the day, a heater by a register, switched chiller and humidifier.
#include <gtest/gtest.h>

#include "tests/daemon/control/rig.hpp"

namespace oxherd::daemon::chamber_test {

using alarms::State;
using control::ActuatorAct;
using rig_test::Rig;
using std::chrono::hours;
using std::chrono::minutes;
using std::chrono::seconds;

struct Chamber : Rig {
  explicit Chamber(std::string_view text = rig_test::chamber) : Rig{text} {
    values["cell/oxygen"] = 0.2095;
    values["air/temperature"] = 273.15 + 22.0;
    values["air/humidity"] = 0.65;
  }
  [[nodiscard]] LoopStatus loop(const std::string& output) const { return actuator(output).loop.value(); }
};

TEST(ProgramOfTheDay, IsJoinedAtOnceByTheClock) {
  Chamber chamber; // 08:15:30, by day
  chamber.second();
  EXPECT_DOUBLE_EQ(chamber.loop("heater").set_point.value(), 24.0);
  EXPECT_EQ(chamber.loop("heater").program, "following");
  EXPECT_DOUBLE_EQ(chamber.loop("heater").next_target.value(), 18.0);
  EXPECT_EQ(chamber.loop("heater").next_at,
            WallTime{std::chrono::sys_days{std::chrono::year{2026} / 3 / 1}} + hours{22});
}

TEST(ProgramOfTheDay, RampsToItsNightAtTheRateThatItStates) {
  Chamber chamber;
  const WallTime ten = WallTime{std::chrono::sys_days{std::chrono::year{2026} / 3 / 1}} + hours{22};
  const auto left = ten - chamber.wall;
  chamber.now += left;
  chamber.wall += left;
  chamber.run(minutes{60});
  EXPECT_NEAR(chamber.loop("heater").set_point.value(), 21.0, 0.01) << "3 K in the first hour";
}

TEST(ProgramOfTheDay, IsHeldByAPersonAndJoinedAgain) {
  Chamber chamber;
  chamber.second();
  const auto hold =
      chamber.site->order("growth-chamber-1", "heat",
                          PlantControl::ProgramOrder{LoopRun::ProgramAct::hold, minutes{10}, "R. Okafor", "trial"},
                          chamber.now, chamber.wall);
  ASSERT_TRUE(hold && !hold->refusal);
  chamber.second();
  EXPECT_EQ(chamber.loop("heater").program, "held");
  chamber.run(minutes{11});
  EXPECT_EQ(chamber.loop("heater").program, "following");
}

TEST(Heater, OpensFurtherTheColderItIsAndShutsAboveItsSetPoint) {
  Chamber chamber;
  chamber.run(seconds{10});
  const double near = chamber.driven("heater");
  EXPECT_GT(near, 0.4); // 2 K of a band of 4 K
  EXPECT_LT(near, 0.7);
  chamber.values["air/temperature"] = 273.15 + 27.0;
  chamber.run(minutes{5});
  EXPECT_EQ(chamber.driven("heater"), 0.0);
}

TEST(Heater, GoesToItsRegisterAsAShareOfItsSpan) {
  Chamber chamber;
  chamber.run(seconds{10});
  const auto* heater = config::actuator_named(chamber.site->settings().outputs, "heater");
  EXPECT_NEAR(chamber.site->value_of(*heater), chamber.driven("heater") * 10000.0, 1.0);
}

TEST(Heater, IsOffOnceItsProbeIsLost) {
  Chamber chamber;
  chamber.run(seconds{10});
  EXPECT_GT(chamber.driven("heater"), 0.0);
  chamber.silent.insert("air");
  chamber.run(seconds{7}); // lost after 5 s
  EXPECT_EQ(chamber.driven("heater"), 0.0);
  EXPECT_EQ(chamber.actuator("heater").decided_by, "safe-state");
}

TEST(Heater, IsTakenOverFromAHandWithoutABump) {
  Chamber chamber;
  chamber.run(seconds{10});
  ASSERT_EQ(chamber.order("heater", ActuatorAct::hold, 0.2, minutes{30}), "");
  chamber.run(minutes{1});
  EXPECT_DOUBLE_EQ(chamber.driven("heater"), 0.2);
  ASSERT_EQ(chamber.order("heater", ActuatorAct::automatic), "");
  chamber.second();
  EXPECT_NEAR(chamber.driven("heater"), 0.2, 0.01);
}

TEST(Chiller, IsSparedShortRunsAndShortRests) {
  Chamber chamber;
  chamber.run(minutes{6});
  chamber.values["air/temperature"] = 273.15 + 27.0;
  chamber.run(seconds{2});
  ASSERT_TRUE(chamber.on("chiller"));
  chamber.values["air/temperature"] = 273.15 + 20.0;
  chamber.run(minutes{2});
  EXPECT_TRUE(chamber.on("chiller")) << "three minutes at least";
  EXPECT_NE(chamber.actuator("chiller").held_back, "");
  chamber.run(minutes{2});
  EXPECT_FALSE(chamber.on("chiller"));
  chamber.values["air/temperature"] = 273.15 + 27.0;
  chamber.run(minutes{3});
  EXPECT_FALSE(chamber.on("chiller")) << "five minutes at least";
  chamber.run(minutes{2});
  EXPECT_TRUE(chamber.on("chiller"));
}

TEST(Humidifier, IsOnBelowItsBandAndOffAtItsSetPoint) {
  Chamber chamber;
  chamber.values["air/humidity"] = 0.61;
  chamber.run(minutes{2});
  EXPECT_TRUE(chamber.on("humidifier"));
  chamber.values["air/humidity"] = 0.651;
  chamber.run(minutes{2});
  EXPECT_FALSE(chamber.on("humidifier"));
}

// Air of 25 °C and 70 %: dew point 19.1 °C, deficit 0.95 kPa (recomputed from IAPWS R7-97; the trade quotes them so).
TEST(DewPointAndDeficit, FollowFromHumidityAndTemperature) {
  std::string text{rig_test::chamber};
  text.replace(text.find("holds = \"humidity\""), 18, "holds = \"vapour-pressure-deficit\"");
  text.replace(text.find("set_point = \"65 %\""), 18, "set_point = \"0.9 kPa\"");
  text.replace(text.find("[room.growth-chamber-1.loop.cold]\nholds = \"temperature\""), 56,
               "[room.growth-chamber-1.loop.cold]\nholds = \"dew-point\"\n");
  Chamber chamber{text};
  chamber.values["air/temperature"] = 273.15 + 25.0;
  chamber.values["air/humidity"] = 0.70;
  chamber.run(seconds{2});
  EXPECT_NEAR(chamber.loop("humidifier").value.value(), 0.95, 0.005);
  EXPECT_NEAR(chamber.loop("chiller").value.value(), 19.1, 0.05);
}

TEST(ProgramOfElapsedTime, WaitsForAPersonAndEndsAtItsLastTarget) {
  std::string text{rig_test::chamber};
  const auto steps = text.find("steps = [");
  text.replace(steps, text.find('\n', steps) - steps,
               "kind = \"elapsed\"\nsteps = [{ to = \"30 °C\", soak = \"10 min\" }, { to = \"20 °C\" }]");
  Chamber chamber{text};
  chamber.run(seconds{2});
  EXPECT_EQ(chamber.loop("heater").program, "waiting");
  EXPECT_EQ(chamber.actuator("heater").decided_by, "rest");
  const PlantControl::ProgramOrder start{LoopRun::ProgramAct::start, {}, "R. Okafor", "drying"};
  ASSERT_FALSE(chamber.site->order("growth-chamber-1", "heat", start, chamber.now, chamber.wall)->refusal);
  chamber.run(minutes{5});
  EXPECT_DOUBLE_EQ(chamber.loop("heater").set_point.value(), 30.0);
  chamber.run(minutes{6});
  EXPECT_DOUBLE_EQ(chamber.loop("heater").set_point.value(), 20.0);
  EXPECT_EQ(chamber.loop("heater").program, "finished");
}

TEST(Orders, ToWhatIsNotThereAreTold) {
  Chamber chamber;
  EXPECT_FALSE(chamber.site->order("boiler", {}, chamber.now, chamber.wall));
  EXPECT_FALSE(
      chamber.site->order("growth-chamber-1", "boil", PlantControl::ProgramOrder{}, chamber.now, chamber.wall));
}

} // namespace oxherd::daemon::chamber_test
