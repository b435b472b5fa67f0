#include "demo/devices.hpp"

#include <gtest/gtest.h>

namespace oxherd::demo::devices_test {

using namespace std::chrono_literals;

class PlantUnits : public ::testing::Test {
protected:
  Site site_{1};
  Devices devices_{site_};
  std::optional<Bytes> ask(int unit, const Bytes& request, Line line = Line::plant) {
    return devices_.answer(line, unit, request, 0ms);
  }
  void break_down(const char* device, Fault fault) {
    ASSERT_TRUE(site_.apply({.verb = Verb::fault, .target = device, .fault = fault}));
  }
};

TEST_F(PlantUnits, AnswerWithTheRegistersOfTheirDevice) {
  const auto words = site_.input_registers("cryo-annexe/cell-a");
  Bytes expected{0x04, 6};
  for (const auto word : words) append_word(expected, word);
  EXPECT_EQ(ask(11, {0x04, 0, 0, 0, 3}), expected);
  EXPECT_NE(ask(12, {0x04, 0, 0, 0, 3}), expected); // another unit, another cell
}

TEST_F(PlantUnits, AnswerAPartOfTheirRegisters) {
  Bytes expected{0x04, 2};
  append_word(expected, site_.input_registers("cryo-annexe/air").at(2));
  EXPECT_EQ(ask(21, {0x04, 0, 2, 0, 1}), expected);
}

// Modbus Application Protocol V1.1b3, section 7: 01 function, 02 address, 03 value, 04 device failure, 0B gateway.
TEST_F(PlantUnits, RefuseWhatTheyDoNotHave) {
  EXPECT_EQ(ask(11, {0x04, 0, 0, 0, 4}), (Bytes{0x84, 0x02}));
  EXPECT_EQ(ask(11, {0x04, 0, 3, 0, 1}), (Bytes{0x84, 0x02}));
  EXPECT_EQ(ask(11, {0x04, 0, 0, 0, 0}), (Bytes{0x84, 0x03}));
  EXPECT_EQ(ask(11, {0x04, 0, 0, 0, 126}), (Bytes{0x84, 0x03}));
  EXPECT_EQ(ask(11, {0x04, 0, 0}), (Bytes{0x84, 0x03}));
  EXPECT_EQ(ask(11, {0x03, 0, 0, 0, 1}), (Bytes{0x83, 0x01}));
  EXPECT_EQ(ask(11, {0x05, 0, 0, 0xFF, 0}), (Bytes{0x85, 0x01}));
  EXPECT_EQ(ask(31, {0x04, 0, 0, 0, 1}), (Bytes{0x84, 0x01}));
  EXPECT_EQ(ask(11, {0x2B, 0x0E, 1, 0, 0}), (Bytes{0xAB, 0x01}));
  EXPECT_EQ(ask(99, {0x04, 0, 0, 0, 1}), (Bytes{0x84, 0x0B}));
}

TEST_F(PlantUnits, StayOnTheirOwnLine) {
  EXPECT_EQ(ask(11, {0x04, 0, 0, 0, 1}, Line::stores), std::nullopt);
  EXPECT_TRUE(ask(1, {0x04, 0, 0, 0, 1}, Line::stores).has_value());
}

TEST_F(PlantUnits, FallSilentOrRefuseWhenTheyAreBroken) {
  break_down("growth-chamber-1/cell", Fault::silent);
  break_down("growth-chamber-1/co2", Fault::refusing);
  EXPECT_EQ(ask(41, {0x04, 0, 0, 0, 3}), std::nullopt);
  EXPECT_EQ(ask(43, {0x04, 0, 0, 0, 1}), (Bytes{0x84, 0x04}));
  break_down("growth-chamber-1/cell", Fault::none);
  EXPECT_TRUE(ask(41, {0x04, 0, 0, 0, 3}).has_value());
}

TEST_F(PlantUnits, TakeCoilsAndRegistersOfTheOutputModule) {
  EXPECT_EQ(ask(31, {0x05, 0, 1, 0xFF, 0}), (Bytes{0x05, 0, 1, 0xFF, 0}));
  EXPECT_EQ(ask(31, {0x06, 0, 10, 0x12, 0x34}), (Bytes{0x06, 0, 10, 0x12, 0x34}));
  EXPECT_EQ(ask(31, {0x01, 0, 0, 0, 8}), (Bytes{0x01, 1, 0b10}));
  EXPECT_EQ(ask(31, {0x03, 0, 10, 0, 1}), (Bytes{0x03, 2, 0x12, 0x34}));
  EXPECT_EQ(ask(31, {0x05, 0, 1, 0x12, 0}), (Bytes{0x85, 0x03}));
  EXPECT_EQ(ask(31, {0x05, 0, 8, 0xFF, 0}), (Bytes{0x85, 0x02}));
  EXPECT_EQ(ask(31, {0x06, 0, 16, 0, 0}), (Bytes{0x86, 0x02}));
  EXPECT_EQ(ask(31, {0x01, 0, 4, 0, 5}), (Bytes{0x81, 0x02}));
}

TEST_F(PlantUnits, TakeSeveralCoilsAndRegistersAtOnce) {
  EXPECT_EQ(ask(31, {0x0F, 0, 0, 0, 3, 1, 0b101}), (Bytes{0x0F, 0, 0, 0, 3}));
  EXPECT_EQ(ask(31, {0x01, 0, 0, 0, 3}), (Bytes{0x01, 1, 0b101}));
  EXPECT_EQ(ask(31, {0x10, 0, 2, 0, 2, 4, 0, 7, 0, 8}), (Bytes{0x10, 0, 2, 0, 2}));
  EXPECT_EQ(ask(31, {0x03, 0, 2, 0, 2}), (Bytes{0x03, 4, 0, 7, 0, 8}));
  EXPECT_EQ(ask(31, {0x10, 0, 2, 0, 2, 4, 0, 7}), (Bytes{0x90, 0x03}));
  EXPECT_EQ(ask(31, {0x0F, 0, 6, 0, 3, 1, 7}), (Bytes{0x8F, 0x02}));
}

TEST_F(PlantUnits, AStuckOutputModuleConfirmsEveryWriteAndTakesNone) {
  EXPECT_EQ(ask(31, {0x05, 0, 2, 0xFF, 0}), (Bytes{0x05, 0, 2, 0xFF, 0}));
  ASSERT_TRUE(site_.apply({.verb = Verb::fault, .target = "outputs", .fault = Fault::stuck}));
  EXPECT_EQ(ask(31, {0x05, 0, 2, 0, 0}), (Bytes{0x05, 0, 2, 0, 0}));
  EXPECT_EQ(ask(31, {0x06, 0, 10, 0, 7}), (Bytes{0x06, 0, 10, 0, 7}));
  EXPECT_EQ(ask(31, {0x01, 0, 2, 0, 1}), (Bytes{0x01, 1, 1})) << "still on";
  EXPECT_EQ(ask(31, {0x03, 0, 10, 0, 1}), (Bytes{0x03, 2, 0, 0}));
  ASSERT_TRUE(site_.apply({.verb = Verb::fault, .target = "outputs", .fault = Fault::none}));
  EXPECT_EQ(ask(31, {0x05, 0, 2, 0, 0}), (Bytes{0x05, 0, 2, 0, 0}));
  EXPECT_EQ(ask(31, {0x01, 0, 2, 0, 1}), (Bytes{0x01, 1, 0}));
}

TEST(OutputModule, StartsWithEveryRelayDropped) {
  const OutputModule module;
  for (const bool on : module.coils()) EXPECT_FALSE(on);
}

TEST(OutputModule, DropsItsRelaysTenSecondsAfterTheLastWrite) {
  OutputModule module;
  module.write_coil(0, true, 1000ms);
  EXPECT_FALSE(module.tick(10999ms));
  EXPECT_TRUE(module.coils()[0]);
  EXPECT_TRUE(module.tick(11000ms));
  EXPECT_FALSE(module.coils()[0]);
  EXPECT_FALSE(module.tick(12000ms)); // tells it once
}

TEST(OutputModule, SetsItsAnalogueOutputsToZeroAndLeavesItsOtherRegisters) {
  OutputModule module{1};
  module.write_register(0, 5000, 0ms);
  module.write_register(1, 7, 0ms);
  EXPECT_TRUE(module.tick(10000ms));
  EXPECT_EQ(module.registers()[0], 0);
  EXPECT_EQ(module.registers()[1], 7);
  EXPECT_FALSE(module.tick(11000ms));
}

TEST(OutputModule, CountsAWriteToARegisterAsASignOfLife) {
  OutputModule module;
  module.write_coil(0, true, 0ms);
  module.write_register(10, 1, 8000ms);
  EXPECT_FALSE(module.tick(17999ms));
  EXPECT_TRUE(module.coils()[0]);
}

} // namespace oxherd::demo::devices_test
