#include "control/aids/dilution.hpp"

#include <cmath>

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace oxherd::control::dilution_test {

constexpr double hour = 3600.0;

/// 200 m3 of free volume, 40 m3/h of nitrogen with 0.5 % of oxygen.
Dilution purged_store() { return {.volume_m3 = 200, .supply_m3_s = 40 / hour, .supply_fraction = 0.005}; }

double hours_to(const Dilution& room, double target) {
  const auto t_s = time_to_reach_s(room, {0.209, target});
  return t_s ? *t_s / hour : NAN;
}

// Worked example from the definition, printed to a tenth of an hour: from 20.9 % down to 5, 3 and 2 %.
TEST(Dilution, AgreesWithTheWorkedExample) {
  EXPECT_NEAR(hours_to(purged_store(), 0.05), 7.6, 0.05);
  EXPECT_NEAR(hours_to(purged_store(), 0.03), 10.5, 0.05);
  EXPECT_NEAR(hours_to(purged_store(), 0.02), 13.1, 0.05);
  EXPECT_NEAR(hours_to(purged_store(), 0.02), 5 * std::log(0.204 / 0.015), 1e-12);
}

TEST(Dilution, TakesAsMuchLongerAsTheRoomMixesPoorly) {
  auto poor = purged_store();
  poor.mixing = 2.5;
  EXPECT_NEAR(hours_to(poor, 0.05), 2.5 * hours_to(purged_store(), 0.05), 1e-9);
}

TEST(Dilution, UsesTheFlowForTheWholeTime) {
  const auto used = supply_used_m3(purged_store(), {0.209, 0.05});
  ASSERT_TRUE(used);
  EXPECT_NEAR(*used, 200 * std::log(0.204 / 0.045), 1e-9);
  EXPECT_FALSE(supply_used_m3(purged_store(), {0.209, 0.004}));
}

// 40 m3/h with 0.5 % and 2 m3/h of outdoor air with 20.95 %: (0.2 + 0.419) / 42.
TEST(Dilution, ComesToRestWhereSupplyAndLeakBalance) {
  auto leaky = purged_store();
  leaky.leak_m3_s = 2 / hour;
  ASSERT_TRUE(end_fraction(leaky));
  EXPECT_NEAR(*end_fraction(leaky), 0.619 / 42, 1e-12);
  EXPECT_FALSE(time_to_reach_s(leaky, {0.209, 0.0147}));
  EXPECT_TRUE(time_to_reach_s(leaky, {0.209, 0.0148}));
}

TEST(Dilution, NeverReachesWhatIsNotOnItsWay) {
  EXPECT_FALSE(time_to_reach_s(purged_store(), {0.209, 0.005})); // the end value itself takes for ever
  EXPECT_FALSE(time_to_reach_s(purged_store(), {0.209, 0.21}));
  EXPECT_EQ(time_to_reach_s(purged_store(), {0.05, 0.05}), 0.0);
  EXPECT_FALSE(time_to_reach_s({.volume_m3 = 200}, {0.209, 0.05})); // nothing flows
}

// Goods that use 0.04 m3/h in a shut room of 200 m3: 0.02 % an hour, in a straight line.
TEST(Dilution, FollowsRespirationInAShutRoom) {
  const Dilution shut{.volume_m3 = 200, .source_m3_s = -0.04 / hour};
  EXPECT_NEAR(fraction_after(shut, 0.03, 10 * hour), 0.028, 1e-12);
  EXPECT_NEAR(time_to_reach_s(shut, {0.03, 0.02}).value_or(NAN) / hour, 50, 1e-9);
  EXPECT_FALSE(time_to_reach_s(shut, {0.03, 0.04}));
  EXPECT_FALSE(end_fraction(shut));
}

// Respiration lowers where a leak would hold the room: 20.95 % - S / L; of a poorly mixed room K times as far.
TEST(Dilution, ComesToRestWhereLeakAndRespirationBalance) {
  Dilution room{.volume_m3 = 200, .leak_m3_s = 0.4 / hour, .source_m3_s = -0.04 / hour};
  EXPECT_NEAR(end_fraction(room).value_or(NAN), 0.2095 - 0.1, 1e-12);
  room.mixing = 2;
  EXPECT_NEAR(end_fraction(room).value_or(NAN), 0.2095 - 0.2, 1e-12);
}

// CODATA 2018: molar volume of an ideal gas at 273.15 K and 101.325 kPa, 22.413 969 54... e-3 m3/mol (from
// memory). It is printed cut off, not rounded, so a whole unit of the last digit is allowed.
TEST(Dilution, TurnsMolesIntoVolume) {
  EXPECT_NEAR(volume_flow_m3_s({1.0, 273.15, 101325}), 22.41396954e-3, 1e-11);
  EXPECT_NEAR(volume_flow_m3_s({2.0, 546.3, 101325}), 4 * 22.41396954e-3, 4e-11);
}

TEST(Dilution, SaysWhatIsWrongWithARoom) {
  EXPECT_EQ(fault_of(purged_store()), "");
  for (double Dilution::*member : {&Dilution::volume_m3, &Dilution::mixing, &Dilution::supply_m3_s,
                                   &Dilution::supply_fraction, &Dilution::leak_m3_s, &Dilution::outdoor_fraction}) {
    for (const double wrong : {-0.001, std::nan("")}) {
      auto room = purged_store();
      room.*member = wrong;
      EXPECT_NE(fault_of(room), "");
    }
  }
  auto room = purged_store();
  room.volume_m3 = 0;
  EXPECT_NE(fault_of(room), "");
  room = purged_store();
  room.mixing = 0.99;
  EXPECT_NE(fault_of(room), "");
  room = purged_store();
  room.supply_fraction = 1.01;
  EXPECT_NE(fault_of(room), "");
}

double drawn(int thousandths_low, int thousandths_high) {
  return *rc::gen::inRange(thousandths_low, thousandths_high) / 1000.0;
}
Dilution any_room() {
  return {.volume_m3 = drawn(1000, 900000),
          .mixing = drawn(1000, 3000),
          .supply_m3_s = drawn(0, 50),
          .supply_fraction = drawn(0, 1000),
          .leak_m3_s = drawn(0, 20),
          .source_m3_s = drawn(-100, 100) / 1e4};
}

RC_GTEST_PROP(Dilution, AgreesWithItsDifferentialEquationIntegratedStepByStep, ()) {
  const Dilution r = any_room();
  const double from = drawn(0, 1000), length_s = drawn(1000, 20000000) / 10;
  constexpr int steps = 2000;
  const double h = length_s / steps;
  const double stiffness = (r.supply_m3_s + r.leak_m3_s) / r.mixing / r.volume_m3 * h;
  RC_PRE(stiffness < 0.02); // where the fourth order leaves an error below 1e-9
  const auto slope = [&](double c) {
    return ((r.supply_m3_s * (r.supply_fraction - c) + r.leak_m3_s * (0.2095 - c)) / r.mixing + r.source_m3_s) /
           r.volume_m3;
  };
  double c = from;
  for (int i = 0; i < steps; ++i) {
    const double k1 = slope(c), k2 = slope(c + h / 2 * k1), k3 = slope(c + h / 2 * k2), k4 = slope(c + h * k3);
    c += h / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
  }
  RC_ASSERT(std::abs(fraction_after(r, from, length_s) - c) < 1e-9 * (1 + std::abs(c)));
}

RC_GTEST_PROP(Dilution, IsAtItsTargetAfterTheTimeItTakesAndElseRestsBeforeIt, ()) {
  const Dilution r = any_room();
  const Course course{drawn(0, 1000), drawn(0, 1000)};
  if (const auto t_s = time_to_reach_s(r, course)) {
    RC_ASSERT(*t_s >= 0.0);
    RC_ASSERT(std::abs(fraction_after(r, course.from, *t_s) - course.to) < 1e-9);
  } else {
    // However long one waits, it does not get to the other side of the target.
    for (const double late_s : {1e2, 1e4, 1e6, 1e8, 1e10}) {
      const double way = course.to - course.from;
      RC_ASSERT((fraction_after(r, course.from, late_s) - course.from) / way < 1.0 + 1e-9);
    }
  }
}

} // namespace oxherd::control::dilution_test
