// Published figures of air and water vapour that are not this library's own equations: how near ours must come.
#include <cmath>

#include <gtest/gtest.h>

#include "compensation/barometry.hpp"
#include "compensation/constants.hpp"
#include "compensation/moist_air.hpp"
#include "compensation/oxygen_reading.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::published_air_test {

// IAPWS R6-95(2018), table 8 (from memory, confirmed by an independent implementation of IAPWS-95): the scientific
// formulation. The industrial one, ours, keeps within rel 1e-4 of it where air is breathed, and states 0.025 % beyond.
TEST(SaturationPressureOverWater, StaysNearTheScientificFormulation) {
  struct Row {
    double t_K, printed_Pa, allowed;
  };
  for (const auto& row :
       {Row{275.0, 0.698451167e3, 1e-4}, Row{450.0, 0.932203564e6, 2.5e-4}, Row{625.0, 0.169082693e8, 2.5e-4}})
    EXPECT_NEAR(saturation_pressure_over_water(kelvins(row.t_K)).value().si() / row.printed_Pa, 1.0, row.allowed)
        << row.t_K;
}

// Murphy and Koop 2005 (Q. J. R. Meteorol. Soc. 131, 1539), table C1 (from memory, recomputed by their equations (10)
// and (7)), at -33 °C. Measured with 50 digits, published formulations spread by up to rel 3.2e-4 over ice and 2.4e-3
// over supercooled water down to -40 °C.
TEST(SaturationPressure, StaysNearMurphyAndKoopsTable) {
  EXPECT_NEAR(sublimation_pressure_over_ice(kelvins(240.0)).value().si() / 27.272, 1.0, 3.2e-4);
  EXPECT_NEAR(saturation_pressure_over_water(kelvins(240.0)).value().si() / 37.667, 1.0, 2.4e-3);
}

// WMO-No. 8 (2018), volume I, annex 4.B: 6.112 hPa exp(17.62 t/(243.12 + t)) over water, and with 22.46 and 272.62 over
// ice (these from memory). A rounded formula, at most 0.31 % off between 0 °C and 60 °C and 0.068 % over ice: measured
// with 50 digits.
TEST(SaturationPressure, StaysWithinThePublishedSpreadOfTheWmoFormula) {
  for (double t_C = 0.0; t_C <= 60.0; t_C += 0.5) {
    const double wmo_Pa = 611.2 * std::exp(17.62 * t_C / (243.12 + t_C));
    EXPECT_NEAR(saturation_pressure_over_water(celsius(t_C)).value().si() / wmo_Pa, 1.0, 3.5e-3) << t_C;
  }
  for (double t_C = -40.0; t_C <= 0.0; t_C += 0.5) {
    const double wmo_Pa = 611.2 * std::exp(22.46 * t_C / (272.62 + t_C));
    EXPECT_NEAR(sublimation_pressure_over_ice(celsius(t_C)).value().si() / wmo_Pa, 1.0, 7.5e-4) << t_C;
  }
}

// WMO-No. 8 (2018), volume I, annex 4.B (from memory): f = 1.0016 + 3.15e-6 p - 0.074/p, p in hPa, without temperature.
// Against CIPM-2007 the two differ by up to 9e-4: measured with 50 digits.
TEST(EnhancementFactor, StaysNearThatOfTheWmo) {
  for (double p_hPa = 600.0; p_hPa <= 1100.0; p_hPa += 50.0)
    for (double t_C = 15.0; t_C <= 27.0; t_C += 3.0)
      EXPECT_NEAR(enhancement_factor(pascals(p_hPa * 100.0), celsius(t_C)), 1.0016 + 3.15e-6 * p_hPa - 0.074 / p_hPa,
                  9e-4);
}

// US Standard Atmosphere 1976 and ISO 2533:1975 by geopotential altitude (from memory), hPa to a thousandth: half of
// that, and the 0.03 Pa by which the constants of the two differ at most.
TEST(StandardAtmosphere, AgreesWithThePrintedTablesByGeopotentialAltitude) {
  struct Row {
    double h_m, printed_hPa, printed_K;
  };
  constexpr Row table[] = {{0, 1013.25, 288.15},     {1000, 898.746, 281.65}, {2000, 794.952, 275.15},
                           {3000, 701.085, 268.65},  {4000, 616.402, 262.15}, {5000, 540.199, 255.65},
                           {6000, 471.810, 249.15},  {7000, 410.607, 242.65}, {9000, 307.425, 229.65},
                           {10000, 264.362, 223.15}, {11000, 226.320, 216.65}};
  for (const auto& row : table) {
    const auto h = GeopotentialAltitude::from_si(row.h_m);
    EXPECT_NEAR(standard_pressure(h).value().si() / 100.0, row.printed_hPa, 0.8e-3) << row.h_m;
    EXPECT_NEAR(standard_temperature(h).value().si(), row.printed_K, 1e-9) << row.h_m;
  }
}

/// Compressibility of moist air. @source CIPM-2007, Metrologia 45 (2008) 149, appendix A.2
double compressibility(double p_Pa, double t_C, double vapour_part) {
  const double first = 1.58123e-6 - 2.9331e-8 * t_C + 1.1043e-10 * t_C * t_C +
                       (5.707e-6 - 2.051e-8 * t_C) * vapour_part +
                       (1.9898e-4 - 2.376e-6 * t_C) * vapour_part * vapour_part;
  const double ratio = p_Pa / (t_C + 273.15);
  return 1.0 - ratio * first + ratio * ratio * (1.83e-11 - 0.765e-8 * vapour_part * vapour_part);
}

// Density of moist air by CIPM-2007 equation (5b), recomputed with 50 digits; the paper prints no example. Ours is the
// sum of dry air and vapour, by their amounts per volume: what an oxygen reading is made of. CIPM-2007 has a saturation
// equation of its own (rel 1e-4 from ours, 1.4e-6 of the density where vapour is most) and the gas constant of 2006
// (rel 1.1e-6); its own standard uncertainty is 22e-6.
TEST(MoistAir, HasTheDensityOfCipm2007) {
  struct Row {
    double p_Pa, t_C, h, carbon_dioxide, density, vapour_part, z;
  };
  constexpr Row table[] = {{101325, 20, 0.5, 0.0004, 1.199314437, 0.01158934013, 0.9996147675},
                           {101325, 20, 0.0, 0.0004, 1.204557287, 0.0, 0.9996431394},
                           {100000, 25, 0.5, 0.0004, 1.161824513, 0.01591392338, 0.9996547055},
                           {95000, 22, 0.45, 0.0004, 1.116366443, 0.01257833936, 0.9996545638},
                           {60000, 15, 0.3, 0.0004, 0.7232405239, 0.00855077502, 0.9997458555},
                           {101325, 27, 1.0, 0.0004, 1.160802741, 0.03536104902, 0.9995889405},
                           {101325, 20, 0.5, 0.0008, 1.199513364, 0.01158934013, 0.9996147675}};
  constexpr double vapour_kg = 18.01528e-3;
  const auto oxygen = DryFraction::from_si(0.2093);
  for (const auto& row : table) {
    SCOPED_TRACE(testing::Message() << row.p_Pa << " Pa, " << row.t_C << " °C, " << row.h << ", CO2 "
                                    << row.carbon_dioxide);
    const auto reading = from_fraction({oxygen, 0.0}, true, examples::gas_of(row.t_C, row.h, row.p_Pa));
    ASSERT_TRUE(reading);
    const double vapour_part = reading->vapour.si() / row.p_Pa;
    EXPECT_NEAR(vapour_part, row.vapour_part, 1e-4 * row.vapour_part);
    const double z = compressibility(row.p_Pa, row.t_C, vapour_part);
    EXPECT_NEAR(z, row.z, 2e-8);
    const double dry_kg = (28.96546 + 12.011 * (row.carbon_dioxide - 0.0004)) * 1e-3; // per mole, table 1 of the same
    const double dry_molar = reading->molar.si() / oxygen.si();
    const double vapour_molar = reading->vapour.si() / (gas_constant * (row.t_C + 273.15));
    EXPECT_NEAR((dry_molar * dry_kg + vapour_molar * vapour_kg) / z / row.density, 1.0, 3e-6);
  }
}

// Respiratory physiology, textbook rounding: vapour at 37 °C is 47 mmHg, so inspired air at 760 mmHg with 20.93 % has
// 149.2 mmHg of oxygen.
TEST(FromFraction, GivesTheInspiredPartialPressureOfTheTextbooks) {
  constexpr double mmHg = 133.322387415;
  const GasConditions airway = examples::gas_of(37.0, 1.0, 760.0 * mmHg);
  EXPECT_NEAR(saturation_pressure_over_water(celsius(37.0)).value().si() / mmHg, 47.0, 0.5);
  const auto reading = from_fraction({DryFraction::from_si(0.2093), 0.0}, true, airway);
  EXPECT_NEAR(reading.value().po2.si() / mmHg, 149.2, 0.05) << "the enhancement factor takes 0.04 of these";
}

} // namespace oxherd::compensation::published_air_test
