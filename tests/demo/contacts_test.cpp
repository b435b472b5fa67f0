#include <gtest/gtest.h>

#include "demo/devices.hpp"
#include "demo/story.hpp"

// What interlocks ask: contacts that are closed while all is well, and the room's pressure.
namespace oxherd::demo::contacts_test {

using namespace std::chrono_literals;

class Contacts : public ::testing::Test {
protected:
  void order(const std::string& line) {
    const auto action = parse_order(line);
    ASSERT_TRUE(action) << line << ": " << action.error();
    const auto done = site_.apply(*action);
    ASSERT_TRUE(done) << line << ": " << done.error();
  }
  /// The discrete input as it is served.
  [[nodiscard]] bool closed(const char* name) {
    const DeviceFacts* device = find_device(name);
    EXPECT_NE(device, nullptr) << name;
    const auto reply = devices_.answer(device->line, device->unit, Bytes{0x02, 0, 0, 0, 1}, 0ms);
    EXPECT_TRUE(reply && reply->size() == 3 && (*reply)[0] == 0x02) << name;
    return reply && reply->back() == 1;
  }
  /// The pressure register of pear-store-2, pascals.
  [[nodiscard]] int pressure_Pa() {
    const auto reply = devices_.answer(Line::stores, 9, Bytes{0x04, 0, 0, 0, 1}, 0ms);
    EXPECT_TRUE(reply && reply->size() == 4);
    return reply ? static_cast<std::int16_t>(word_at(*reply, 2)) : 0;
  }
  void drive_store(const PlantState& plant) { site_.drive("pear-store-2", plant); }

  Site site_{3};
  Devices devices_{site_};
};

TEST_F(Contacts, OfOccupancyAreClosedWhileNobodyIsIn) {
  for (const char* room : {"growth-chamber-1", "pear-store-2", "bay-3"}) {
    const std::string name = std::string{room} + "/occupancy";
    EXPECT_TRUE(closed(name.c_str()));
    order("people " + std::string{room} + " 2");
    EXPECT_FALSE(closed(name.c_str()));
    order("people " + std::string{room} + " 0");
    EXPECT_TRUE(closed(name.c_str()));
  }
}

TEST_F(Contacts, OfTheLightsAreClosedFromSixToTwentyOClock) {
  EXPECT_TRUE(closed("bay-3/lights")); // 8 o'clock
  site_.advance(12h - 1s);
  EXPECT_TRUE(closed("bay-3/lights"));
  site_.advance(1s);
  EXPECT_FALSE(closed("bay-3/lights"));
  EXPECT_FALSE(closed("growth-chamber-1/lights"));
  site_.advance(10h);
  EXPECT_TRUE(closed("bay-3/lights"));
  EXPECT_TRUE(closed("growth-chamber-1/lights"));
}

TEST_F(Contacts, OfTheAirFlowFollowTheFanInFiveSeconds) {
  EXPECT_TRUE(closed("bay-3/air-flow")) << "the bay runs its fan itself";
  site_.drive("bay-3", {});
  site_.advance(5s);
  EXPECT_TRUE(closed("bay-3/air-flow")) << "it runs down";
  site_.advance(1s);
  EXPECT_FALSE(closed("bay-3/air-flow"));
  site_.drive("bay-3", {.circulation_fan = true});
  site_.advance(5s);
  EXPECT_FALSE(closed("bay-3/air-flow"));
  site_.advance(1s);
  EXPECT_TRUE(closed("bay-3/air-flow"));
}

TEST_F(Contacts, OfTheReliefValveAreClosedWhileNothingIsolatesIt) {
  EXPECT_TRUE(closed("pear-store-2/relief-valve"));
  order("relief-isolated pear-store-2 1");
  EXPECT_FALSE(closed("pear-store-2/relief-valve"));
  order("relief-isolated pear-store-2 0");
  EXPECT_TRUE(closed("pear-store-2/relief-valve"));
  EXPECT_FALSE(site_.apply({.verb = Verb::relief_isolated, .target = "bay-3", .value = 1.0})) << "it has none";
}

TEST_F(Contacts, StickAndBreakAndFallSilent) {
  order("fault bay-3/lights stuck");
  site_.advance(13h);
  EXPECT_TRUE(closed("bay-3/lights")) << "at nine in the evening";
  order("fault bay-3/lights none");
  EXPECT_FALSE(closed("bay-3/lights"));
  order("fault bay-3/occupancy disconnected");
  EXPECT_FALSE(closed("bay-3/occupancy")) << "a broken wire reads as people in";
  order("fault pear-store-2/relief-valve silent");
  EXPECT_EQ(devices_.answer(Line::stores, 8, Bytes{0x02, 0, 0, 0, 1}, 0ms), std::nullopt);
  order("fault pear-store-2/over-pressure refusing");
  EXPECT_EQ(devices_.answer(Line::stores, 9, Bytes{0x04, 0, 0, 0, 1}, 0ms), (Bytes{0x84, 0x04}));
  EXPECT_FALSE(site_.apply({.verb = Verb::fault, .target = "plant-1", .fault = Fault::disconnected}));
}

TEST_F(Contacts, HaveOneDiscreteInputAndNothingElse) {
  EXPECT_EQ(devices_.answer(Line::stores, 17, Bytes{0x02, 0, 0, 0, 2}, 0ms), (Bytes{0x82, 0x02}));
  EXPECT_EQ(devices_.answer(Line::stores, 17, Bytes{0x04, 0, 0, 0, 1}, 0ms), (Bytes{0x84, 0x01}));
  EXPECT_EQ(devices_.answer(Line::stores, 9, Bytes{0x02, 0, 0, 0, 1}, 0ms), (Bytes{0x82, 0x01}));
}

// The probe is within 1 Pa, its noise 0.5 Pa, and gusts of some pascals come and go.
TEST_F(Contacts, StandBesideTheRoomsPressureInPascals) {
  drive_store({.fresh_air_open = false, .purge_open = true});
  site_.advance(5min);
  EXPECT_NEAR(pressure_Pa(), 99, 15);
  order("relief-isolated pear-store-2 1");
  site_.advance(1min);
  // 40 m3/h into 130 m3 are 8.5 Pa a second, a room that warms up by 5.5 K/h another 0.55; 2 % leak out on the way.
  EXPECT_NEAR(pressure_Pa(), 99 + 60 * (8.5 + 0.55) * 0.98, 15);
  drive_store({.fresh_air_open = true});
  site_.advance(1s);
  EXPECT_NEAR(pressure_Pa(), 0, 4);
  drive_store({.fresh_air_open = false, .chiller = true});
  site_.advance(10min);
  EXPECT_LT(pressure_Pa(), -50) << "what cools draws in";
}

} // namespace oxherd::demo::contacts_test
