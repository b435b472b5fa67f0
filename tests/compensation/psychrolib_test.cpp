// Against psychrolib 1.1.1 (npm), which holds the equations of the ASHRAE Handbook - Fundamentals 2017, chapter 1. It
// has no enhancement factor: ours is taken out where that is possible, and counted in the tolerance where it is not.
#include <cmath>
#include <filesystem>

#include <gtest/gtest.h>

#include "compensation/barometry.hpp"
#include "compensation/moist_air.hpp"
#include "compensation/oxygen_reading.hpp"
#include "tests/compensation/examples.hpp"
#include "tests/compensation/program.hpp"

namespace oxherd::compensation::psychrolib_test {

/// Between the saturation equations: rel 1.8e-4 over water from 0 °C to 60 °C, 2.2e-4 over ice down to -20 °C (both
/// measured with 50 digits, IAPWS R7-97 and R14-08 against Hyland and Wexler, which ASHRAE uses).
constexpr double over_water = 1.9e-4;
constexpr double over_ice = 2.3e-4;

std::vector<std::vector<double>> printed(const std::string& what) {
  const std::filesystem::path folder = OXHERD_SOURCE_DIR "/tests/compensation/psychrolib_peer";
  if (!std::filesystem::exists(folder / "node_modules/psychrolib")) {
    ADD_FAILURE() << "psychrolib is not installed: run tests/compensation/psychrolib_peer/install";
    return {};
  }
  const auto out = program::run("node " + (folder / "grid.js").string() + what);
  EXPECT_EQ(out.status, 0) << out.text;
  return program::rows_of(out.text);
}

/// One point of the grid, its humidity over water as ours is.
struct Point {
  double t_C, h, p_Pa, vapour_Pa, ratio, dry_air, dew_C;
  bool is_ice;
};

std::vector<Point> grid() {
  std::vector<Point> all;
  for (const auto& row : printed("")) {
    if (row.size() != 7) {
      ADD_FAILURE() << "a line of " << row.size() << " numbers";
      return {};
    }
    Point point{row[0], row[1], row[2], row[3], row[4], row[5], row[6], row[0] < 0.01};
    if (point.is_ice) point.h /= humidity_over_ice(RelativeHumidity::from_si(1.0), celsius(point.t_C)).value();
    all.push_back(point);
  }
  return all;
}

TEST(Psychrolib, AgreesOnVapourAndHumidityRatioOverTheSpanOfUse) {
  const auto points = grid();
  ASSERT_EQ(points.size(), 33U * 21U * 11U);
  for (const Point& x : points) {
    SCOPED_TRACE(testing::Message() << x.t_C << " °C, " << x.h << ", " << x.p_Pa << " Pa");
    const double allowed = x.is_ice ? over_ice : over_water;
    const auto e = vapour_pressure(RelativeHumidity::from_si(x.h), celsius(x.t_C), pascals(x.p_Pa));
    ASSERT_TRUE(e);
    const double plain_Pa = e->si() / enhancement_factor(pascals(x.p_Pa), celsius(x.t_C));
    ASSERT_NEAR(plain_Pa, x.vapour_Pa, allowed * x.vapour_Pa);
    if (x.h == 0.0) continue; // its humidity ratio is never below 1e-7
    const double ratio = 0.621945 * plain_Pa / (x.p_Pa - plain_Pa);
    ASSERT_NEAR(ratio / x.ratio, 1.0, allowed * x.p_Pa / (x.p_Pa - plain_Pa)) << "what the vapour's difference makes";
  }
}

// The oxygen of air by its dry density: x rho/M, M = 28.966 g/mol (ASHRAE). Its gas constant of dry air, 287.042
// J/(kg K), has six digits.
TEST(Psychrolib, AgreesOnTheAmountOfOxygenInMoistAir) {
  for (const Point& x : grid()) {
    SCOPED_TRACE(testing::Message() << x.t_C << " °C, " << x.h << ", " << x.p_Pa << " Pa");
    const auto reading =
        from_fraction({DryFraction::from_si(0.20946), 0.0}, true, examples::gas_of(x.t_C, x.h, x.p_Pa));
    ASSERT_TRUE(reading);
    const double f = enhancement_factor(pascals(x.p_Pa), celsius(x.t_C));
    const double vapour_part = reading->vapour.si() / (x.p_Pa - reading->vapour.si());
    const double allowed = ((f - 1.0) + (x.is_ice ? over_ice : over_water)) * vapour_part + 2e-6;
    ASSERT_NEAR(reading->molar.si() / (0.20946 * x.dry_air / 0.028966), 1.0, allowed);
  }
}

// Both find a root: psychrolib iterates to 0.001 °C, and the two equations lie 0.003 °C apart.
TEST(Psychrolib, AgreesOnTheDewPoint) {
  int compared = 0;
  for (const Point& x : grid()) {
    if (!(x.dew_C > 0.5)) continue; // below it gives the frost point
    const double e_Pa = x.h * saturation_pressure_over_water(celsius(x.t_C)).value().si();
    ASSERT_NEAR(dew_point(pascals(e_Pa)).value().si() - 273.15, x.dew_C, 0.004) << x.t_C << " °C, " << x.h;
    ++compared;
  }
  EXPECT_GT(compared, 3000);
}

// ASHRAE prints the standard atmosphere with rounded constants, 101.325 (1 - 2.25577e-5 Z)^5.2559 kPa.
TEST(Psychrolib, AgreesOnTheStandardAtmosphere) {
  const auto rows = printed(" altitudes");
  ASSERT_EQ(rows.size(), 106U);
  for (const auto& row : rows) {
    ASSERT_EQ(row.size(), 3U);
    const auto h = GeopotentialAltitude::from_si(row[0]);
    EXPECT_NEAR(standard_pressure(h).value().si() / row[1], 1.0, 7e-6) << row[0];
    EXPECT_NEAR(standard_temperature(h).value().si() - 273.15, row[2], 1e-9) << row[0];
  }
}

} // namespace oxherd::compensation::psychrolib_test
