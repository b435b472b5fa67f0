#include "compensation/barometry.hpp"

#include <cmath>
#include <limits>

#include <gtest/gtest.h>

namespace oxherd::compensation::barometry_test {

GeopotentialAltitude altitude(double h_m) { return GeopotentialAltitude::from_si(h_m); }

// ISO 2533:1975 / ICAO Doc 7488 formula, recomputed with 50 digits and, within 0.03 Pa, by the constants of the US
// Standard Atmosphere 1976. Each row: the number taken as geopotential altitude, then as a geometric height.
TEST(StandardAtmosphere, AgreesWithRecomputedRowsForBothKindsOfHeight) {
  struct Row {
    double h_m, p_Pa, t_K, geometric_p_Pa, geometric_t_K, geopotential_m;
  };
  constexpr Row table[] = {{-500, 107477.511161, 291.4, 107478.006755, 291.4002557, -500.0393313},
                           {0, 101325.0, 288.15, 101325.0, 288.15, 0.0},
                           {500, 95460.8353365, 284.9, 95461.2854915, 284.9002556, 499.9606749},
                           {1000, 89874.5629162, 281.65, 89876.2776023, 281.6510224, 999.842712},
                           {1500, 84555.9940738, 278.4, 84559.6659278, 278.4023002, 1499.64613},
                           {2000, 79495.2019341, 275.15, 79501.4110685, 275.1540888, 1999.370947},
                           {3000, 70108.5264961, 268.65, 70121.1440681, 268.6591985, 2998.584854},
                           {5000, 54019.8881881, 255.65, 54048.2622376, 255.6755432, 4996.070274},
                           {8848, 31443.969302, 230.638, 31501.2931752, 230.7179398, 8835.701563}};
  for (const auto& row : table) {
    SCOPED_TRACE(row.h_m);
    EXPECT_NEAR(standard_pressure(altitude(row.h_m)).value().si() / row.p_Pa, 1.0, 1e-9);
    EXPECT_NEAR(standard_temperature(altitude(row.h_m)).value().si() / row.t_K, 1.0, 1e-9);
    const GeopotentialAltitude h = geopotential(metres(row.h_m));
    EXPECT_NEAR(h.si(), row.geopotential_m, 1e-9 * std::fabs(row.h_m) + 1e-12);
    EXPECT_NEAR(standard_pressure(h).value().si() / row.geometric_p_Pa, 1.0, 1e-9);
    EXPECT_NEAR(standard_temperature(h).value().si() / row.geometric_t_K, 1.0, 1e-9);
  }
}

// ASHRAE Handbook - Fundamentals 2017, chapter 1, table 1 (whole pascals), and the printed tropopause pressure.
TEST(StandardAtmosphere, AgreesWithPrintedTables) {
  struct Row {
    double h_m, printed_Pa;
  };
  for (const auto& row : {Row{-500, 107478}, Row{0, 101325}, Row{500, 95461}, Row{1000, 89875}, Row{4000, 61640},
                          Row{10000, 26436}, Row{11000, 22632}})
    EXPECT_NEAR(standard_pressure(altitude(row.h_m)).value().si(), row.printed_Pa, 1.0) << row.h_m;
  EXPECT_NEAR(standard_pressure(altitude(11000)).value().si(), 22632.0401, 0.03); // USSA-76 constants, recomputed
  EXPECT_NEAR(standard_temperature(altitude(11000)).value().si(), 216.65, 1e-12);
}

// ICAO standard atmosphere (1964 tables) prints whole metres and truncates; the second value is recomputed.
TEST(PressureAltitude, AgreesWithPrintedAndRecomputedRows) {
  struct Row {
    double p_Pa, printed_m, h_m;
  };
  constexpr Row table[] = {{105000, -302, -301.518548043}, {95000, 540, 540.337101044}, {90000, 988, 988.500078899},
                           {85000, 1457, 1457.2994515},    {80000, 1949, 1948.987831},  {70000, 3012, 3012.18050679},
                           {60000, 4206, 4206.42242773},   {30000, 9164, 9163.95117501}};
  for (const auto& row : table) {
    SCOPED_TRACE(row.p_Pa);
    const double h_m = pressure_altitude(pascals(row.p_Pa)).value().si();
    EXPECT_NEAR(h_m, row.printed_m, 1.0);
    EXPECT_NEAR(h_m / row.h_m, 1.0, 1e-9);
  }
}

// ICAO Doc 7488 / WMO-No. 8: exact inverse of the definition of QNH, recomputed.
TEST(StationPressure, AgreesWithTheExactInverseOfQnh) {
  struct Row {
    double qnh_Pa, h_m, p_Pa;
  };
  constexpr Row table[] = {{101325, 500, 95460.8353365}, {101300, 500, 95437.0135512},  {102000, 640, 94503.6265579},
                           {98000, 212, 95546.3538684},  {103000, 1600, 84956.3072562}, {101300, 1000, 89851.8763872}};
  for (const auto& row : table) {
    SCOPED_TRACE(row.h_m);
    const Pressure p = station_pressure(SeaLevelPressure::from_si(row.qnh_Pa), altitude(row.h_m)).value();
    EXPECT_NEAR(p.si() / row.p_Pa, 1.0, 1e-9);
    EXPECT_NEAR(sea_level_pressure(p, altitude(row.h_m)).value().si() / row.qnh_Pa, 1.0, 1e-12);
  }
}

// The definition of QNH: the standard pressure of any altitude reduces to 1013.25 hPa.
TEST(SeaLevelPressure, OfTheStandardPressureIsTheStandardAtmosphere) {
  for (double h_m = -2000.0; h_m <= 11000.0; h_m += 250.0) {
    const Pressure p = standard_pressure(altitude(h_m)).value();
    EXPECT_NEAR(sea_level_pressure(p, altitude(h_m)).value().si() / 101325.0, 1.0, 1e-12) << h_m;
    EXPECT_NEAR(pressure_altitude(p).value().si(), h_m, 1e-8) << h_m;
  }
}

// Published station pressures by other conventions (US practice, Smithsonian 1951 with its 0.3 hPa term; a report from
// Buckley, altimeter 30.11 inHg at 5577 ft): they differ from the exact form by up to 0.5 hPa, as stated with them.
TEST(StationPressure, StaysWithinHalfAHectopascalOfOtherConventions) {
  EXPECT_NEAR(station_pressure(SeaLevelPressure::from_si(101300.0), altitude(500.0)).value().si(), 95463.9265, 50.0);
  EXPECT_NEAR(station_pressure(SeaLevelPressure::from_si(29.80 * 3386.388640341), altitude(500.0)).value().si(),
              95096.498, 50.0);
  const double report_Pa =
      station_pressure(SeaLevelPressure::from_si(30.11 * 3386.388640341), altitude(5577.0 * 0.3048)).value().si();
  EXPECT_NEAR(report_Pa, 83043.85, 0.01); // the exact form, recomputed
  for (const double other_Pa : {83067.0, 83013.0, 83051.0}) EXPECT_NEAR(report_Pa, other_Pa, 50.0);
}

TEST(Barometry, RefusesWhatItDoesNotCover) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  EXPECT_FALSE(standard_pressure(altitude(11000.1)));
  EXPECT_FALSE(standard_pressure(altitude(-2000.1)));
  EXPECT_FALSE(standard_pressure(altitude(nan)));
  EXPECT_FALSE(standard_temperature(altitude(nan)));
  EXPECT_FALSE(standard_temperature(altitude(12000)));
  EXPECT_FALSE(pressure_altitude(pascals(22632.0)));
  EXPECT_FALSE(pressure_altitude(pascals(nan)));
  const auto sea = SeaLevelPressure::from_si(101325.0);
  EXPECT_FALSE(station_pressure(SeaLevelPressure::from_si(nan), altitude(0)));
  EXPECT_FALSE(station_pressure(SeaLevelPressure::from_si(79e3), altitude(0)));
  EXPECT_FALSE(station_pressure(sea, altitude(nan)));
  EXPECT_FALSE(station_pressure(sea, altitude(11001)));
  EXPECT_FALSE(sea_level_pressure(pascals(nan), altitude(0)));
  EXPECT_FALSE(sea_level_pressure(pascals(95000), altitude(nan)));
  const auto impossible = sea_level_pressure(pascals(101325.0), altitude(1500.0)); // would be 121 kPa at sea level
  ASSERT_FALSE(impossible);
  EXPECT_LT(impossible.error().high, 101325.0);
}

} // namespace oxherd::compensation::barometry_test
