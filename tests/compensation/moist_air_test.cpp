#include "compensation/moist_air.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

#include "compensation/saturation.hpp"

namespace oxherd::compensation::moist_air_test {

// IAPWS R7-97(2012), table 35. Nine digits are printed, so half a unit of the ninth is allowed.
TEST(SaturationPressureOverWater, AgreesWithIapwsTable35) {
  struct Row {
    double t_K, printed, scale_MPa;
  };
  constexpr Row table[] = {{300, 0.353658941, 1e-2}, {500, 0.263889776, 1e1}, {600, 0.123443146, 1e2}};
  for (const auto& row : table) {
    SCOPED_TRACE(row.t_K);
    const auto p = saturation_pressure_over_water(kelvins(row.t_K));
    ASSERT_TRUE(p);
    EXPECT_NEAR(p->si() / 1e6 / row.scale_MPa, row.printed, 0.5e-9);
  }
}

// IAPWS R7-97(2012), table 36.
TEST(SaturationTemperatureOverWater, AgreesWithIapwsTable36) {
  struct Row {
    double p_MPa, printed_K;
  };
  constexpr Row table[] = {{0.1, 0.372755919e3}, {1.0, 0.453035632e3}, {10.0, 0.584149488e3}};
  for (const auto& row : table) {
    SCOPED_TRACE(row.p_MPa);
    const auto t = saturation_temperature_over_water(pascals(row.p_MPa * 1e6));
    ASSERT_TRUE(t);
    EXPECT_NEAR(t->si(), row.printed_K, 0.5e-6);
  }
}

// IAPWS R14-08(2011), table 3, and its triple-point pressure.
TEST(SublimationPressureOverIce, AgreesWithIapwsTable3AndTheTriplePoint) {
  const auto p = sublimation_pressure_over_ice(kelvins(230.0));
  ASSERT_TRUE(p);
  EXPECT_NEAR(p->si(), 8.94735, 0.5e-5);
  const auto triple = sublimation_pressure_over_ice(kelvins(273.16));
  ASSERT_TRUE(triple);
  EXPECT_NEAR(triple->si(), 611.657, 0.5e-3);
}

// ASHRAE Handbook - Fundamentals 2017, chapter 1, table 3, as printed there; over ice below 0 °C.
TEST(SaturationPressure, AgreesWithAshraeTable3AtEveryPrintedDigit) {
  struct Row {
    double t_C, printed_Pa, half_unit_Pa;
  };
  constexpr Row over_ice[] = {{-60, 1.08, 0.005}, {-20, 103.24, 0.005}, {-5, 401.74, 0.005}};
  for (const auto& row : over_ice) {
    SCOPED_TRACE(row.t_C);
    const auto p = sublimation_pressure_over_ice(celsius(row.t_C));
    ASSERT_TRUE(p);
    EXPECT_NEAR(p->si(), row.printed_Pa, row.half_unit_Pa);
  }
  constexpr Row over_water[] = {
      {5, 872.6, 0.05}, {25, 3169.7, 0.05}, {50, 12351.3, 0.05}, {100, 101418.0, 0.5}, {150, 476101.4, 0.05}};
  for (const auto& row : over_water) {
    SCOPED_TRACE(row.t_C);
    const auto p = saturation_pressure_over_water(celsius(row.t_C));
    ASSERT_TRUE(p);
    EXPECT_NEAR(p->si(), row.printed_Pa, row.half_unit_Pa);
  }
}

// ASHRAE Handbook - Fundamentals 2017, chapter 1, table 3: rows recomputed independently by the IAPWS equations with 50
// digits and rounded to six; rel 3.5e-4 is the stated spread to the handbook's own equations.
TEST(SaturationPressure, AgreesWithRecomputedAshraeRows) {
  struct Row {
    double t_C, p_Pa, handbook_Pa;
  };
  constexpr Row over_ice[] = {
      {-40, 12.8412, 12.845249}, {-30, 38.0051, 38.015677}, {-10, 259.874, 259.90286}, {0, 611.153, 611.15357}};
  constexpr Row over_water[] = {{10, 1228.18, 1227.9953},
                                {20, 2339.21, 2338.8037},
                                {30, 4246.69, 4246.0302},
                                {40, 7384.43, 7383.46},
                                {60, 19945.8, 19943.761}};
  const auto check = [](const Row& row, const tl::expected<Pressure, RangeError>& p) {
    SCOPED_TRACE(row.t_C);
    ASSERT_TRUE(p);
    EXPECT_NEAR(p->si() / row.p_Pa, 1.0, 5e-6);
    EXPECT_NEAR(p->si() / row.handbook_Pa, 1.0, 3.5e-4);
  };
  for (const auto& row : over_ice) check(row, sublimation_pressure_over_ice(celsius(row.t_C)));
  for (const auto& row : over_water) check(row, saturation_pressure_over_water(celsius(row.t_C)));
}

// ASHRAE Handbook - Fundamentals 2017, chapter 1, table 2: saturation humidity ratio of real moist air at 101.325 kPa.
// The sharpest outside test of an enhancement factor: left out, every row misses by 0.4 % to 0.6 %.
TEST(EnhancementFactor, BringsTheHumidityRatiosOfAshraeTable2) {
  struct Row {
    double t_C, printed, allowed;
  };
  constexpr Row table[] = {{-50, 0.0000243, 2e-3}, {-20, 0.0006373, 7e-4}, {-5, 0.0024863, 7e-4},
                           {5, 0.005425, 7e-4},    {25, 0.020173, 7e-4},   {50, 0.086863, 7e-4}};
  const Pressure p = pascals(101325.0);
  for (const auto& row : table) {
    SCOPED_TRACE(row.t_C);
    const auto saturation = row.t_C < 0.0 ? sublimation_pressure_over_ice(celsius(row.t_C))
                                          : saturation_pressure_over_water(celsius(row.t_C));
    ASSERT_TRUE(saturation);
    const auto ratio = [&](double e_Pa) { return 0.621945 * e_Pa / (p.si() - e_Pa); };
    const double f = enhancement_factor(p, celsius(row.t_C));
    EXPECT_NEAR(ratio(f * saturation->si()) / row.printed, 1.0, row.allowed);
    EXPECT_GT(std::fabs(ratio(saturation->si()) / row.printed - 1.0), 3.5e-3) << "the row would not notice f = 1";
  }
}

// CIPM-2007, appendix A.1: values of its formula, recomputed; over the range stated there.
TEST(EnhancementFactor, IsThatOfCipm2007) {
  struct Row {
    double p_Pa, at_15, at_20, at_27;
  };
  constexpr Row table[] = {{60000, 1.00263, 1.002728, 1.00291224},
                           {80000, 1.003258, 1.003356, 1.00354024},
                           {101325, 1.003927605, 1.004025605, 1.004209845},
                           {110000, 1.0042, 1.004298, 1.00448224}};
  for (const auto& row : table) {
    SCOPED_TRACE(row.p_Pa);
    EXPECT_NEAR(enhancement_factor(pascals(row.p_Pa), celsius(15.0)), row.at_15, 1e-9);
    EXPECT_NEAR(enhancement_factor(pascals(row.p_Pa), celsius(20.0)), row.at_20, 1e-9);
    EXPECT_NEAR(enhancement_factor(pascals(row.p_Pa), celsius(27.0)), row.at_27, 1e-9);
  }
}

// IAPWS R7-97 equation (30) and IAPWS R14-08 equation (6), recomputed with 50 digits.
TEST(SaturationPressure, AgreesWithFiftyDigitRecomputation) {
  struct Row {
    double t_C, p_Pa;
  };
  for (const auto& row : {Row{0, 611.212677444}, Row{12, 1402.82237282}, Row{21, 2488.1015685}, Row{37, 6281.8494025},
                          Row{-10, 286.437484069}, Row{-20, 125.45696}, Row{-40, 18.956764}}) {
    SCOPED_TRACE(row.t_C);
    const auto p = saturation_pressure_over_water(celsius(row.t_C));
    ASSERT_TRUE(p);
    EXPECT_NEAR(p->si() / row.p_Pa, 1.0, row.t_C <= -20 ? 5e-8 : 1e-9); // the two coldest are printed with 8 digits
  }
  for (const auto& row : {Row{-5, 401.741022116}, Row{-15, 165.27373596}, Row{-25, 63.2736036829}}) {
    SCOPED_TRACE(row.t_C);
    const auto p = sublimation_pressure_over_ice(celsius(row.t_C));
    ASSERT_TRUE(p);
    EXPECT_NEAR(p->si() / row.p_Pa, 1.0, 1e-9);
  }
}

// Murphy and Koop 2005 (Q. J. R. Meteorol. Soc. 131, 1539), equation (10): the allowed difference is the measured
// spread.
TEST(SaturationPressureOverWater, StaysNearMurphyAndKoopBelowFreezing) {
  struct Row {
    double t_C, p_Pa, allowed;
  };
  for (const auto& row :
       {Row{-10, 286.45297, 6e-5}, Row{-20, 125.50417, 4e-4}, Row{-30, 50.935615, 5e-4}, Row{-40, 18.912149, 2.4e-3}}) {
    SCOPED_TRACE(row.t_C);
    const auto p = saturation_pressure_over_water(celsius(row.t_C));
    ASSERT_TRUE(p);
    EXPECT_NEAR(p->si() / row.p_Pa, 1.0, row.allowed);
  }
}

// IAPWS R7-97 equations (30) and (31) inverted, recomputed; dew point over the pure phase. The last column is the WMO
// closed form (WMO-No. 8, annex 4.B), which differs by up to 0.02 °C.
TEST(DewPoint, AgreesWithRecomputedRows) {
  struct Row {
    double t_C, h, dew_C, wmo_C;
  };
  for (const auto& row :
       {Row{20, 0.5, 9.27279996, 9.2551746}, Row{25, 0.6, 16.7009905, 16.693149}, Row{30, 0.8, 26.1684297, 26.168846},
        Row{40, 0.3, 19.1245123, 19.132062}, Row{2, 0.95, 1.28457372, 1.2826705}}) {
    SCOPED_TRACE(row.t_C);
    const auto saturation = saturation_pressure_over_water(celsius(row.t_C));
    ASSERT_TRUE(saturation);
    const auto dew = dew_point(*saturation * row.h);
    ASSERT_TRUE(dew);
    EXPECT_NEAR(dew->si() - 273.15, row.dew_C, 1e-6);
    EXPECT_NEAR(dew->si() - 273.15, row.wmo_C, 0.02);
  }
}

// Ideal-gas conversions of the same saturation pressures, recomputed: vapour pressure, mixing ratio with 0.621945
// (ASHRAE equation (20)) and absolute humidity.
TEST(SaturationPressureOverWater, FeedsTheUsualMeasuresOfHumidity) {
  struct Row {
    double t_C, h, e_Pa, p_Pa, mixing;
  };
  for (const auto& row :
       {Row{20, 0.5, 1169.60738339, 101325, 0.00726302843069}, Row{25, 0.6, 1901.84811297, 101325, 0.0118970773122},
        Row{30, 0.8, 3397.35067244, 95000, 0.0230666392237}, Row{40, 0.3, 2215.32824612, 101325, 0.0139018957651},
        Row{2, 0.95, 670.688510603, 98000, 0.00428577331273}}) {
    SCOPED_TRACE(row.t_C);
    const double e_Pa = row.h * saturation_pressure_over_water(celsius(row.t_C)).value().si();
    EXPECT_NEAR(e_Pa / row.e_Pa, 1.0, 1e-9);
    EXPECT_NEAR(0.621945 * e_Pa / (row.p_Pa - e_Pa) / row.mixing, 1.0, 1e-9);
  }
  struct Absolute {
    double t_C, h, g_per_m3;
  };
  for (const auto& row :
       {Absolute{20, 0.5, 8.644841481}, Absolute{21, 0.45, 8.247429227}, Absolute{30, 0.8, 24.28228967}}) {
    const double t_K = row.t_C + 273.15;
    const double e_Pa = row.h * saturation_pressure_over_water(kelvins(t_K)).value().si();
    EXPECT_NEAR(e_Pa * 18.01528 / (gas_constant * t_K) / row.g_per_m3, 1.0, 1e-8);
  }
}

// Humidity below 0 °C is over water (WMO-No. 8 convention). IAPWS R7-97 extrapolated and R14-08, recomputed; the first
// column of each is this very equation, so the printed digits bind.
TEST(HumidityBelowFreezing, IsOverWaterAndConvertsToIce) {
  struct Row {
    double t_C, h, e_Pa, over_ice, dew_C;
  };
  for (const auto& row : {Row{-10, 0.7, 200.5062, 0.771552, -14.4274}, Row{-20, 0.6, 75.27418, 0.729125, -25.7739},
                          Row{-5, 0.9, 379.5848, 0.944849, -6.38262}}) {
    SCOPED_TRACE(row.t_C);
    const auto h = RelativeHumidity::from_si(row.h);
    const double e_Pa = row.h * saturation_pressure_over_water(celsius(row.t_C)).value().si();
    EXPECT_NEAR(e_Pa / row.e_Pa, 1.0, 5e-7);
    EXPECT_NEAR(humidity_over_ice(h, celsius(row.t_C)).value(), row.over_ice, 0.6e-6);
    EXPECT_NEAR(dew_point(pascals(e_Pa)).value().si() - 273.15, row.dew_C, 0.6e-4);
  }
  // The trap: the same 70 % taken over ice would be 181.9117 Pa, 9.3 % lower.
  const double over_ice_Pa = 0.7 * sublimation_pressure_over_ice(celsius(-10.0)).value().si();
  EXPECT_NEAR(over_ice_Pa, 181.9117, 1e-4);
  const double e_Pa = vapour_pressure(percent_humidity(70.0), celsius(-10.0), pascals(102000.0)).value().si();
  EXPECT_GT(e_Pa, over_ice_Pa * 1.09);
}

// Worked example E1: e = f h ps with f by CIPM-2007 and ps by IAPWS R7-97, recomputed with 50 digits.
TEST(VapourPressure, IsEnhancedAndTakenAtTheProbe) {
  const auto e = vapour_pressure(percent_humidity(45.0), celsius(21.0), pascals(99800.0));
  ASSERT_TRUE(e);
  EXPECT_NEAR(e->si() / 1124.12505001, 1.0, 1e-10);
}

TEST(SaturationSlope, IsTheDerivativeOfTheSaturationPressure) {
  for (double t_K = 233.15; t_K < 640.0; t_K += 3.7) {
    const double step = 1e-3;
    const double numeric = (saturation_SI(t_K + step).value - saturation_SI(t_K - step).value) / (2.0 * step);
    EXPECT_NEAR(saturation_SI(t_K).slope / numeric, 1.0, 1e-7) << t_K;
  }
}

TEST(MoistAir, RefusesValuesOutsideItsEquationsAndSaysTheSpan) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const auto refused = saturation_pressure_over_water(kelvins(233.149));
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().value, 233.149);
  EXPECT_NEAR(refused.error().low, 233.15, 1e-8);
  EXPECT_EQ(refused.error().high, 647.096);
  EXPECT_TRUE(saturation_pressure_over_water(kelvins(233.15)));
  EXPECT_TRUE(saturation_pressure_over_water(celsius(-40.0))) << "the sum with 273.15 rounds below 233.15";
  EXPECT_TRUE(saturation_pressure_over_water(kelvins(647.096)));
  EXPECT_FALSE(saturation_pressure_over_water(kelvins(647.097)));
  EXPECT_FALSE(saturation_pressure_over_water(kelvins(nan)));
  EXPECT_FALSE(saturation_temperature_over_water(pascals(nan)));
  EXPECT_FALSE(saturation_temperature_over_water(pascals(0.0)));
  EXPECT_FALSE(saturation_temperature_over_water(pascals(22.1e6)));
  EXPECT_TRUE(saturation_temperature_over_water(saturation_pressure_over_water(kelvins(233.15)).value()));
  EXPECT_FALSE(sublimation_pressure_over_ice(kelvins(273.17)));
  EXPECT_FALSE(sublimation_pressure_over_ice(kelvins(nan)));
  EXPECT_FALSE(dew_point(pascals(0.0))) << "bone-dry gas has no dew point";
  const Temperature room = celsius(20.0);
  const Pressure p = kilopascals(101.325);
  EXPECT_TRUE(vapour_pressure(percent_humidity(105.0), room, p));
  EXPECT_FALSE(vapour_pressure(percent_humidity(105.1), room, p));
  EXPECT_FALSE(vapour_pressure(percent_humidity(-0.1), room, p));
  EXPECT_FALSE(vapour_pressure(percent_humidity(nan), room, p));
  EXPECT_FALSE(vapour_pressure(percent_humidity(50.0), room, kilopascals(1.0)));
  EXPECT_FALSE(vapour_pressure(percent_humidity(50.0), kelvins(20.0), p));
  EXPECT_FALSE(humidity_over_ice(percent_humidity(50.0), celsius(1.0)));
  EXPECT_FALSE(humidity_over_ice(percent_humidity(nan), celsius(-1.0)));
}

} // namespace oxherd::compensation::moist_air_test
