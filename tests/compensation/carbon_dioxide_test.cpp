#include "compensation/carbon_dioxide.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "compensation/moist_air.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::carbon_dioxide_test {

WetFraction ppm(double v) { return WetFraction::from_si(v * 1e-6); }

// Ideal gas: x = x_ind (p0/p)(T/T0); derived and recomputed for 1600 m and 15 °C.
TEST(CorrectNdir, FollowsTheIdealGasLaw) {
  const auto x = correct_ndir({ppm(1000.0), 0.0}, {}, examples::gas_of(15.0, 0.5, 83523.53));
  ASSERT_TRUE(x);
  EXPECT_NEAR(x->value.si() / 1172.4426258e-6, 1.0, 1e-7);
  EXPECT_EQ(x->u_si, 0.0);
  const auto same = correct_ndir({ppm(1000.0), 0.0}, {}, examples::gas_of(25.0, 0.5, 101325.0));
  EXPECT_NEAR(same.value().value.si(), 1e-3, 1e-18);
}

// Dry basis from a wet reading, x/(1 - xv): derived and recomputed.
TEST(CorrectNdir, LeavesAWetFractionThatTheVapourPressureMakesDry) {
  const GasConditions gas = examples::gas_of(28.0, 0.8, 101325.0);
  const NdirReference here{pascals(101325.0), celsius(28.0)};
  const double wet = correct_ndir({ppm(900.0), 0.0}, here, gas).value().value.si();
  const double e_Pa = vapour_pressure(gas.humidity.value, gas.temperature.value, gas.pressure.value).value().si();
  EXPECT_NEAR(wet / (1.0 - e_Pa / 101325.0) / 927.82876e-6, 1.0, 1e-6);
}

// GUM equation (10) for a product: relative uncertainties add in squares.
TEST(CorrectNdir, PropagatesIndicationPressureAndTemperature) {
  GasConditions gas = examples::gas_of(15.0, 0.5, 83500.0);
  gas.pressure.u_si = 800.0;
  gas.temperature.u_si = 0.5;
  const auto x = correct_ndir({ppm(1000.0), 30e-6}, {}, gas).value();
  const double relative =
      std::sqrt(std::pow(30.0 / 1000.0, 2) + std::pow(800.0 / 83500.0, 2) + std::pow(0.5 / 288.15, 2));
  EXPECT_NEAR(x.u_si / x.value.si(), relative, 1e-12);
}

TEST(CorrectNdir, RefusesInputsThatCannotBeMeant) {
  const GasConditions good = examples::gas_of(15.0, 0.5, 83523.53);
  const auto in_ppm = correct_ndir({WetFraction::from_si(1000.0), 0.0}, {}, good);
  ASSERT_FALSE(in_ppm);
  EXPECT_EQ(in_ppm.error().what,
            "sample: the carbon dioxide fraction is 1e+09 ppm; -10000 ppm to 1e+06 ppm is accepted");
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_FALSE(correct_ndir({WetFraction::from_si(nan), 0.0}, {}, good));
  EXPECT_FALSE(correct_ndir({ppm(400.0), nan}, {}, good));
  EXPECT_FALSE(correct_ndir({ppm(400.0), 0.0}, {pascals(0.0), celsius(25.0)}, good));
  EXPECT_FALSE(correct_ndir({ppm(400.0), 0.0}, {pascals(101325.0), kelvins(0.0)}, good));
  EXPECT_FALSE(correct_ndir({ppm(400.0), 0.0}, {}, examples::gas_of(nan, 0.5, 101325.0)));
  EXPECT_FALSE(correct_ndir({ppm(400.0), 0.0}, {}, examples::gas_of(20.0, 0.5, 101.325)));
  EXPECT_TRUE(correct_ndir({ppm(400.0), 0.0}, {}, examples::gas_of(20.0, nan, 101325.0))) << "humidity plays no part";
}

} // namespace oxherd::compensation::carbon_dioxide_test
