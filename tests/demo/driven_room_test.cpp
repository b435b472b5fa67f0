#include <cmath>

#include <gtest/gtest.h>

#include "demo/room.hpp"

// A room that a plant module has taken over, against the closed forms of its first-order responses. The weather stands:
// 996 hPa, 14 °C, 70 %. The simulation begins at 8 o'clock, in the light.
namespace oxherd::demo::driven_room_test {

constexpr RoomFacts chamber{.name = "chamber",
                            .volume_m3 = 30.0,
                            .air_changes_per_h = 0.0,
                            .temperature_C = 20.0,
                            .plant = {.vents_changes_per_h = 20.0,
                                      .dosing_m3_per_h = 0.6,
                                      .dosing_dead_time_s = 30.0,
                                      .heat = HeatFacts{.still_C = 15.0,
                                                        .time_constant_s = 900.0,
                                                        .dead_time_s = 60.0,
                                                        .lights_K = 5.0,
                                                        .heater_K = 12.0,
                                                        .heater_valve_K = 8.0,
                                                        .chiller_K = 14.0},
                                      .water = WaterFacts{.still = 0.010,
                                                          .time_constant_s = 600.0,
                                                          .dead_time_s = 60.0,
                                                          .plants = 0.002,
                                                          .humidifier = 0.005,
                                                          .chiller = 0.003}}};
constexpr PlantState all_shut{.vents_open = false, .fresh_air_open = false};

class DrivenRoom : public ::testing::Test {
protected:
  void run(int seconds, int dt_s = 1) {
    for (int s = 0; s < seconds; s += dt_s) room_.advance(weather_, now_s_ += dt_s, dt_s);
  }
  /// Until nothing is left of where it came from; twice of it is still before the lamps go out.
  void settle() { run(5 * 3600); }
  void drive(const PlantState& plant) { room_.drive(plant); }
  [[nodiscard]] double t_C() const { return room_.air().temperature.si() - 273.15; }

  Weather weather_{Noise{1}};
  Room room_{chamber, weather_};
  double now_s_ = 0.0;
};

TEST_F(DrivenRoom, StaysAtItsStillTemperatureWithTheLampsOn) {
  drive(all_shut);
  settle();
  EXPECT_NEAR(t_C(), 20.0, 1e-6);
}

TEST_F(DrivenRoom, IsRaisedByTheHeaterWithItsTimeConstantAfterItsDeadTime) {
  PlantState heating = all_shut;
  heating.heater = true;
  drive(heating);
  run(60);
  EXPECT_NEAR(t_C(), 20.0, 1e-9) << "the warm air is still under way";
  run(900);
  EXPECT_NEAR(t_C(), 20.0 + 12.0 * (1.0 - std::exp(-1.0)), 1e-9);
  settle();
  EXPECT_NEAR(t_C(), 32.0, 1e-6);
}

TEST_F(DrivenRoom, IsRaisedByTheHeaterValveInProportionAndBesideTheHeater) {
  PlantState heating = all_shut;
  heating.heater_valve = 0.25;
  drive(heating);
  settle();
  EXPECT_NEAR(t_C(), 22.0, 1e-6);
  heating.heater = true;
  heating.heater_valve = 1.0;
  drive(heating);
  settle();
  EXPECT_NEAR(t_C(), 40.0, 1e-6);
}

TEST_F(DrivenRoom, IsCooledAndDriedByTheChiller) {
  PlantState cooling = all_shut;
  cooling.chiller = true;
  drive(cooling);
  settle();
  EXPECT_NEAR(t_C(), 6.0, 1e-6);
  EXPECT_NEAR(room_.air().vapour_fraction, 0.010 + 0.002 - 0.003, 1e-6);
}

TEST_F(DrivenRoom, IsMoistenedByTheHumidifierWithItsTimeConstant) {
  drive(all_shut);
  run(3 * 3600);
  EXPECT_NEAR(room_.air().vapour_fraction, 0.012, 1e-6);
  PlantState moist = all_shut;
  moist.humidifier = true;
  drive(moist);
  run(60 + 600);
  EXPECT_NEAR(room_.air().vapour_fraction, 0.012 + 0.005 * (1.0 - std::exp(-1.0)), 1e-6);
}

// Rates add: 1/900 s towards 20 °C, and 20 changes an hour, of which 5 % count for heat, towards 14 °C.
TEST_F(DrivenRoom, ExchangesHeatWithTheOutdoorsThroughOpenVents) {
  PlantState open = all_shut;
  open.vents_open = true;
  drive(open);
  settle();
  const double own = 1.0 / 900.0;
  const double aired = 0.05 * 20.0 / 3600.0;
  EXPECT_NEAR(t_C(), (own * 20.0 + aired * 14.0) / (own + aired), 1e-6);
}

TEST_F(DrivenRoom, GivesTheSameWithLongStepsAsWithShortOnes) {
  Room other{chamber, weather_};
  PlantState heating = all_shut;
  heating.heater = true;
  heating.humidifier = true;
  drive(heating);
  other.drive(heating);
  run(3600, 1);
  for (int s = 60; s <= 3600; s += 60) other.advance(weather_, s, 60.0);
  EXPECT_NEAR(other.air().temperature.si(), room_.air().temperature.si(), 1e-9);
  EXPECT_NEAR(other.air().vapour_fraction, room_.air().vapour_fraction, 1e-9);
}

// 0.6 m3/h into 30 m3 for 5 s are 28 ppm, 30 s after the valve.
TEST_F(DrivenRoom, IsDosedByAPulseOnceItHasComeThroughTheHose) {
  PlantState dosing = all_shut;
  drive(dosing);
  run(600);
  const double before = room_.gas().carbon_dioxide();
  dosing.carbon_dioxide_open = true;
  drive(dosing);
  run(5);
  drive(all_shut);
  run(25);
  EXPECT_NEAR(room_.gas().carbon_dioxide(), before, 1e-9) << "none has come yet";
  run(60);
  EXPECT_NEAR((room_.gas().carbon_dioxide() - before) * 1e6, 0.6 / 30.0 * 5.0 / 3600.0 * 1e6, 0.5);
}

constexpr RoomFacts store{
    .name = "store",
    .volume_m3 = 130.0,
    .temperature_C = 2.0,
    .plant = {.fresh_air_m3_per_h = 20.0, .purge_m3_per_h = 40.0, .heat = HeatFacts{.still_C = 2.0, .chiller_K = 20.0}},
    .relief = ReliefFacts{.leak_m3_per_h_per_Pa = 0.0027, .relief_m3_per_h_per_Pa = 0.4}};

class SealedStore : public ::testing::Test {
protected:
  void SetUp() override { room_.drive(sealed_); }
  void run(int seconds) {
    for (int s = 0; s < seconds; ++s) room_.advance(weather_, now_s_ += 1.0, 1.0);
  }
  void purge(bool open) {
    sealed_.purge_open = open;
    room_.drive(sealed_);
  }

  Weather weather_{Noise{1}};
  Room room_{store, weather_};
  PlantState sealed_{.vents_open = false, .fresh_air_open = false};
  double now_s_ = 0.0;
};

TEST_F(SealedStore, HasThePressureThatDrivesThePurgeOutThroughReliefAndLeaks) {
  purge(true);
  run(600);
  EXPECT_NEAR(room_.over_pressure_Pa(), 40.0 / 0.4027, 1e-6);
}

TEST_F(SealedStore, RisesByEightPascalsASecondWhenItsReliefValveIsIsolated) {
  room_.controls.relief_isolated = true;
  purge(true);
  run(10);
  const double time_constant_s = 130.0 * 3600.0 / (99600.0 * 0.0027);
  EXPECT_NEAR(room_.over_pressure_Pa(), 40.0 / 0.0027 * (1.0 - std::exp(-10.0 / time_constant_s)), 1e-6);
  EXPECT_NEAR(room_.over_pressure_Pa(), 85.0, 0.5);
}

// Half-life 0.69 V/(p g): 20.1 min with 0.0027 m3/h a pascal.
TEST_F(SealedStore, LosesHalfOfItsPressureInItsHalfLife) {
  room_.controls.relief_isolated = true;
  purge(true);
  run(29);
  purge(false);
  const double start_Pa = room_.over_pressure_Pa();
  const double half_life_s = std::log(2.0) * 130.0 * 3600.0 / (99600.0 * 0.0027);
  EXPECT_NEAR(half_life_s, 20.1 * 60.0, 3.0);
  run(1206);
  EXPECT_NEAR(room_.over_pressure_Pa(), start_Pa * std::exp2(-1206.0 / half_life_s), 1e-6);
}

TEST_F(SealedStore, HoldsNoPressureWithItsDoorOrFreshAirValveOpen) {
  purge(true);
  run(600);
  room_.controls.door_open = true;
  run(1);
  EXPECT_EQ(room_.over_pressure_Pa(), 0.0);
  room_.controls.door_open = false;
  run(600);
  EXPECT_GT(room_.over_pressure_Pa(), 90.0);
  sealed_.fresh_air_open = true;
  purge(true);
  run(1);
  EXPECT_EQ(room_.over_pressure_Pa(), 0.0);
}

// A control that fails can leave everything on for days; the simulation has to go on.
TEST(EveryRoom, StandsWhateverAModuleLeavesOn) {
  const Weather weather{Noise{1}};
  const PlantState all_on{.vents_open = false,
                          .extract_fan = false,
                          .fresh_air_open = false,
                          .purge_open = true,
                          .carbon_dioxide_open = true,
                          .scrubber = true,
                          .circulation_fan = true,
                          .heater = true,
                          .heater_valve = 1.0,
                          .chiller = true,
                          .humidifier = true};
  const PlantState cold{.fresh_air_open = false, .scrubber = true, .chiller = true};
  for (const auto& facts : room_facts())
    for (const auto& state : {all_on, cold, PlantState{}}) {
      Room room{facts, weather};
      room.drive(state);
      for (int minute = 1; minute <= 48 * 60; ++minute) {
        room.advance(weather, minute * 60.0, 60.0);
        const TrueAir air = room.air();
        ASSERT_GE(air.oxygen.si(), 0.0) << facts.name;
        ASSERT_LE(air.humidity.si(), 1.0) << facts.name;
        ASSERT_NEAR(air.temperature.si(), 290.0, 35.0) << facts.name;
      }
    }
}

TEST_F(SealedStore, IsDrawnInWhenItIsCooledAndTight) {
  room_.controls.relief_isolated = true;
  sealed_.chiller = true;
  room_.drive(sealed_);
  run(60);
  const double cooled_K = 275.15 - room_.air().temperature.si();
  EXPECT_NEAR(room_.over_pressure_Pa(), -99600.0 / 275.15 * cooled_K, 10.0) << "less what has leaked in";
  EXPECT_LT(room_.over_pressure_Pa(), -400.0);
}

} // namespace oxherd::demo::driven_room_test
