#include "demo/site.hpp"

#include <cmath>

#include <gtest/gtest.h>

#include "demo/story.hpp"

namespace oxherd::demo::site_test {

using namespace std::chrono_literals;

std::vector<std::vector<std::uint16_t>> all_registers(const Site& site) {
  std::vector<std::vector<std::uint16_t>> all;
  for (const auto& device : device_facts()) all.push_back(site.input_registers(device.name));
  return all;
}

TEST(Site, IsTheSameForTheSameSeedHoweverTimeIsCut) {
  Site whole{42};
  Site pieces{42};
  whole.advance(600s);
  for (int i = 0; i < 60000; ++i) pieces.advance(10ms);
  EXPECT_EQ(all_registers(whole), all_registers(pieces));
  EXPECT_EQ(whole.weather().pressure(), pieces.weather().pressure());
}

TEST(Site, DiffersForAnotherSeed) {
  Site one{42};
  Site other{43};
  one.advance(60s);
  other.advance(60s);
  EXPECT_NE(all_registers(one), all_registers(other));
}

TEST(Site, ServesEveryDeviceButTheOutputModule) {
  Site site{1};
  for (const auto& device : device_facts()) {
    const bool has_no_register = device.kind == DeviceKind::outputs || is_contact(device.kind);
    const bool has_one = device.kind == DeviceKind::co2 || device.kind == DeviceKind::over_pressure;
    const std::size_t expected = has_no_register ? 0 : has_one ? 1 : 3;
    EXPECT_EQ(site.input_registers(device.name).size(), expected) << device.name;
  }
  EXPECT_TRUE(site.input_registers("cryo-annexe/nothing").empty());
}

TEST(Site, ClosesTheCircuitOfADoorContactWithTheDoor) {
  Site site{1};
  const auto does = [&](Verb verb, double value, Fault fault = Fault::none) {
    ASSERT_TRUE(site.apply({.verb = verb,
                            .target = verb == Verb::fault ? "pear-store-2/door" : "pear-store-2",
                            .value = value,
                            .fault = fault}));
  };
  EXPECT_TRUE(site.door_closed("pear-store-2/door"));
  does(Verb::door, 1);
  EXPECT_FALSE(site.door_closed("pear-store-2/door"));
  does(Verb::fault, 0, Fault::stuck);
  does(Verb::door, 0);
  EXPECT_FALSE(site.door_closed("pear-store-2/door")) << "it is stuck";
  does(Verb::fault, 0);
  EXPECT_TRUE(site.door_closed("pear-store-2/door"));
}

TEST(Site, KeepsEveryRoomInItsUsualBandForAQuietDay) {
  Site site{5};
  Player player{site, parse_story(builtin_story("quiet")).value()};
  for (int minute = 0; minute < 24 * 60; ++minute) {
    player.advance(60s);
    for (const auto& room : site.rooms()) {
      SCOPED_TRACE(std::string{room.facts().name} + " after minute " + std::to_string(minute));
      const TrueAir air = room.air();
      const bool sealed = room.facts().name == "pear-store-2";
      ASSERT_GT(air.oxygen.si(), sealed ? 0.018 : 0.205);
      ASSERT_LT(air.oxygen.si(), sealed ? 0.022 : 0.2115);
      ASSERT_GT(air.carbon_dioxide.si(), 300e-6);
      ASSERT_LT(air.carbon_dioxide.si(), sealed ? 0.02 : 2500e-6);
      ASSERT_NEAR(air.temperature.si() - 273.15, room.facts().temperature_C, room.facts().night_drop_K + 4.0);
      ASSERT_GT(air.humidity.si(), 0.3);
      ASSERT_LE(air.humidity.si(), 1.0);
    }
  }
  EXPECT_TRUE(player.at_end());
}

TEST(Site, LowersTheOxygenOfARoomThatLeaksNitrogen) {
  Site site{1};
  ASSERT_TRUE(site.apply({.verb = Verb::ventilation, .target = "cryo-annexe", .value = 0.0}));
  ASSERT_TRUE(site.apply({.verb = Verb::leak, .target = "cryo-annexe", .value = 20.0}));
  site.advance(3600s);
  const double oxygen = site.room("cryo-annexe")->gas().oxygen();
  // The dilution equation; water vapour takes 1.1 % of the room at first and the barometer draws in a trace of air.
  EXPECT_NEAR(oxygen, outdoor_oxygen * std::exp(-20.0 / 60.0), 0.001);
  EXPECT_NEAR(site.room("bay-3")->gas().oxygen(), outdoor_oxygen, 0.002);
}

TEST(Site, MovesTheBarometerInAStraightLine) {
  Site site{1};
  ASSERT_TRUE(site.apply({.verb = Verb::barometer, .value = 972.0, .over_s = 3600.0}));
  site.advance(1800s);
  EXPECT_NEAR(site.weather().pressure().si(), 98400.0, 40.0); // tide and gusts
  site.advance(3600s);
  EXPECT_NEAR(site.weather().pressure().si(), 97200.0, 60.0);
}

TEST(Site, FreezesAStuckDeviceUntilItIsRepaired) {
  Site site{1};
  site.advance(10s);
  ASSERT_TRUE(site.apply({.verb = Verb::fault, .target = "cryo-annexe/cell-a", .fault = Fault::stuck}));
  const auto frozen = site.input_registers("cryo-annexe/cell-a");
  site.advance(60s);
  EXPECT_EQ(site.input_registers("cryo-annexe/cell-a"), frozen);
  ASSERT_TRUE(site.apply({.verb = Verb::fault, .target = "cryo-annexe/cell-a", .fault = Fault::none}));
  EXPECT_NE(site.input_registers("cryo-annexe/cell-a"), frozen);
}

// Zero and calibration signal of the cell are 0.4 mV and 12.6 mV, 0.004 mV of noise beside them.
TEST(Site, PutsACellAloneIntoTheGasOfACylinderAndBack) {
  Site site{1};
  Site untouched{1};
  const auto settled_mV = [](const Site& s, std::string_view device) { return s.cell(device)->settled().si() * 1e3; };
  ASSERT_TRUE(site.apply({.verb = Verb::gas, .target = "cryo-annexe/cell-a", .value = 0.0}));
  site.advance(300s);
  untouched.advance(300s);
  EXPECT_NEAR(settled_mV(site, "cryo-annexe/cell-a"), 0.4, 1e-9);
  EXPECT_EQ(settled_mV(site, "cryo-annexe/cell-b"), settled_mV(untouched, "cryo-annexe/cell-b"));
  ASSERT_TRUE(site.apply({.verb = Verb::gas, .target = "cryo-annexe/cell-a", .value = 100.0}));
  site.advance(300s);
  EXPECT_GT(settled_mV(site, "cryo-annexe/cell-a"), 4.0 * 12.6) << "dry oxygen";
  ASSERT_TRUE(site.apply({.verb = Verb::no_gas, .target = "cryo-annexe/cell-a"}));
  site.advance(300s);
  untouched.advance(600s);
  EXPECT_NEAR(settled_mV(site, "cryo-annexe/cell-a"), settled_mV(untouched, "cryo-annexe/cell-a"), 1e-9);
}

TEST(Site, RefusesWhatItDoesNotHave) {
  Site site{1};
  EXPECT_FALSE(site.apply({.verb = Verb::gas, .target = "cryo-annexe/air", .value = 0.0}));
  EXPECT_FALSE(site.apply({.verb = Verb::gas, .target = "cryo-annexe/cell-a", .value = 101.0}));
  EXPECT_FALSE(site.apply({.verb = Verb::no_gas, .target = "attic/cell"}));
  EXPECT_FALSE(site.apply({.verb = Verb::leak, .target = "attic", .value = 1.0}));
  EXPECT_FALSE(site.apply({.verb = Verb::fault, .target = "attic/cell", .fault = Fault::silent}));
  EXPECT_FALSE(site.apply({.verb = Verb::fault, .target = "cryo-annexe/air", .fault = Fault::dead}));
  EXPECT_FALSE(site.apply({.verb = Verb::fault, .target = "outputs", .fault = Fault::worn}));
}

TEST(Site, LetsPeopleAndPlantsBreathe) {
  Site site{1};
  ASSERT_TRUE(site.apply({.verb = Verb::people, .target = "cryo-annexe", .value = 4.0}));
  ASSERT_TRUE(site.apply({.verb = Verb::ventilation, .target = "cryo-annexe", .value = 1.0}));
  site.advance(4h);
  const DryGas& gas = site.room("cryo-annexe")->gas();
  // Settled: 4 people, 1.4e-3 mol/s of oxygen against 60 m3/h of fresh air at 41 mol/m3, that is 0.68 mol/s.
  EXPECT_NEAR(outdoor_oxygen - gas.oxygen(), 1.4e-3 / 0.68, 2e-4);
  EXPECT_NEAR(gas.carbon_dioxide() - outdoor_carbon_dioxide, 0.85 * 1.4e-3 / 0.68, 2e-4);
}

} // namespace oxherd::demo::site_test
