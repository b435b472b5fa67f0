#include "daemon/control/process_value.hpp"

#include <gtest/gtest.h>

#include "tests/daemon/control/room_look.hpp"

namespace oxherd::daemon::process_value_test {
namespace {

using control::ProcessValue;
using rig_test::RoomLook;
using std::chrono::seconds;

ProcessReading read(const RoomLook& look, ProcessValue value) {
  return process_value(value, look.view(), look.settings, look.sources, look.states, look.now);
}

/// A chamber whose probe says this.
RoomLook chamber_at(double t_C, double humidity) {
  RoomLook look{rig_test::chamber};
  auto& air = look.states.front()[1];
  air.channels[0].si = t_C + 273.15;
  air.channels[1].si = humidity;
  return look;
}

// ASHRAE Handbook Fundamentals 2017, chapter 1, table 3: saturation over water is 872.6 Pa at 5 °C, 3169.7 Pa at 25 °C
// and 12351.3 Pa at 50 °C; printed to 0.1 Pa, its equations agree with IAPWS within 3e-4.
TEST(VapourPressureDeficit, FollowsTheTableOfSaturatedAir) {
  const struct {
    double t_C, saturation_Pa;
  } rows[]{{5.0, 872.6}, {25.0, 3169.7}, {50.0, 12351.3}};
  for (const auto& row : rows)
    for (const double humidity : {0.2, 0.6, 1.0}) {
      const auto found = read(chamber_at(row.t_C, humidity), ProcessValue::vapour_pressure_deficit);
      ASSERT_TRUE(found.value) << found.trouble;
      EXPECT_NEAR(*found.value, (1.0 - humidity) * row.saturation_Pa, 3e-4 * row.saturation_Pa);
    }
}

// The same table, read the other way: air at 25 °C whose vapour is that of saturation at 5 °C.
TEST(DewPointOfARoom, IsTheTemperatureAtWhichItsVapourSaturates) {
  const auto found = read(chamber_at(25.0, 872.6 / 3169.7), ProcessValue::dew_point);
  ASSERT_TRUE(found.value) << found.trouble;
  EXPECT_NEAR(*found.value - 273.15, 5.0, 0.01); // 3e-4 of the pressure is 0.004 K
  const auto saturated = read(chamber_at(25.0, 1.0), ProcessValue::dew_point);
  EXPECT_NEAR(saturated.value.value() - 273.15, 25.0, 1e-6);
}

TEST(DewPointOfARoom, IsNotKnownInAirWithoutVapour) {
  const auto found = read(chamber_at(25.0, 0.0), ProcessValue::dew_point);
  EXPECT_FALSE(found.value);
  EXPECT_EQ(found.trouble, "the air is too dry for a dew point");
}

TEST(AProbesValue, IsGivenAsItIsAndLostWhenTheSampleIsTooOld) {
  auto look = chamber_at(21.5, 0.65);
  EXPECT_DOUBLE_EQ(read(look, ProcessValue::temperature).value.value(), 294.65);
  EXPECT_DOUBLE_EQ(read(look, ProcessValue::humidity).value.value(), 0.65);
  look.now += seconds{60};
  for (const auto value : {ProcessValue::temperature, ProcessValue::humidity, ProcessValue::dew_point,
                           ProcessValue::vapour_pressure_deficit}) {
    const auto lost = read(look, value);
    EXPECT_FALSE(lost.value);
    EXPECT_NE(lost.trouble.find("growth-chamber-1/air"), std::string::npos) << lost.trouble;
  }
}

TEST(AGas, IsTakenOnTheSideThatDoesHarm) {
  RoomLook look{rig_test::pear_store};
  look.watched.oxygen = {{alarms::Quality::good, 0.021, 0.001, look.now},
                         {alarms::Quality::good, 0.019, 0.001, look.now}};
  look.watched.carbon_dioxide = {{alarms::Quality::good, 0.012, 0.001, look.now},
                                 {alarms::Quality::good, 0.010, 0.001, look.now}};
  EXPECT_EQ(read(look, ProcessValue::oxygen).value, 0.019);
  EXPECT_EQ(read(look, ProcessValue::carbon_dioxide).value, 0.012);
}

TEST(AGas, MayBeHeldByAnUncertainReadingAndNothingIsLearnedFromIt) {
  RoomLook look{rig_test::pear_store};
  EXPECT_FALSE(read(look, ProcessValue::oxygen).uncertain);
  look.watched.oxygen[0].quality = alarms::Quality::uncertain;
  look.watched.reason = "cell: calibration is due";
  auto found = read(look, ProcessValue::oxygen);
  EXPECT_TRUE(found.value && found.uncertain);
  EXPECT_EQ(found.trouble, "cell: calibration is due");
  look.watched.oxygen[0].quality = alarms::Quality::good;
  look.watched.vote_health = alarms::VoteHealth::degraded;
  EXPECT_TRUE(read(look, ProcessValue::oxygen).uncertain);
}

TEST(AGas, IsNotKnownInARoomThatIsNotMonitored) {
  RoomLook look{rig_test::pear_store};
  look.watched.monitored = false;
  look.watched.reason = "too few cells are good";
  const auto found = read(look, ProcessValue::oxygen);
  EXPECT_FALSE(found.value);
  EXPECT_EQ(found.trouble, "too few cells are good");
}

TEST(OverPressure, IsThatOfTheRoomsProbe) {
  RoomLook look{rig_test::pear_store};
  look.answer("draught", -42.0);
  EXPECT_EQ(read(look, ProcessValue::over_pressure).value, -42.0);
  RoomLook without{rig_test::chamber};
  const auto none = read(without, ProcessValue::over_pressure);
  EXPECT_FALSE(none.value);
  EXPECT_EQ(none.trouble, "no probe measures it");
}

TEST(TextOfAProcessValue, IsInTheUnitOfTheTrade) {
  EXPECT_EQ(text_of(ProcessValue::oxygen, 0.195), "19.50 %");
  EXPECT_EQ(text_of(ProcessValue::carbon_dioxide, 812e-6), "812 ppm");
  EXPECT_EQ(text_of(ProcessValue::temperature, 294.45), "21.3 °C");
  EXPECT_EQ(text_of(ProcessValue::vapour_pressure_deficit, 950.0), "0.95 kPa");
  EXPECT_EQ(text_of(ProcessValue::over_pressure, -12.0), "-12 Pa");
}

} // namespace
} // namespace oxherd::daemon::process_value_test
