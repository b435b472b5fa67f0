#include "compensation/batch.hpp"

#include <cmath>
#include <limits>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "tests/compensation/differences.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::batch_test {

struct Columns {
  std::vector<double> signal_V, temperature_K, humidity, pressure_Pa;
  void add(double signal, double t_K, double h, double p_Pa) {
    signal_V.push_back(signal);
    temperature_K.push_back(t_K);
    humidity.push_back(h);
    pressure_Pa.push_back(p_Pa);
  }
  [[nodiscard]] BatchColumns view() const { return {signal_V, temperature_K, humidity, pressure_Pa}; }
};

struct Fractions {
  std::vector<double> dry;
  std::vector<std::uint8_t> valid;
  std::size_t count = 0;
};

Fractions batch(const PreparedCell& cell, const Columns& rows) {
  Fractions out{.dry = std::vector<double>(rows.signal_V.size(), -1.0), .valid = {}};
  out.valid.assign(rows.signal_V.size(), 77);
  out.count = read_batch(cell, rows.view(), out.dry, out.valid);
  return out;
}

/// What read_oxygen says of the same rows.
void expect_same(const differences::Inputs& x, const Columns& rows, const Fractions& got) {
  std::size_t valid = 0;
  std::size_t wrong = 0;
  for (std::size_t i = 0; i < rows.signal_V.size() && wrong < 5; ++i) {
    const GasConditions gas{.temperature = {kelvins(rows.temperature_K[i]), 0.0},
                            .humidity = {RelativeHumidity::from_si(rows.humidity[i]), 0.0},
                            .humidity_temperature = {},
                            .pressure = {pascals(rows.pressure_Pa[i]), 0.0}};
    const auto one = read_oxygen(x.cell, x.calibration, {Signal::from_si(rows.signal_V[i]), 0.0}, gas);
    const double expected = one ? one->dry.si() : 0.0;
    const bool same = got.valid[i] == (one ? 1 : 0) && std::fabs(got.dry[i] - expected) <= 1e-12 * std::fabs(expected);
    if (one) ++valid;
    if (same) continue;
    ++wrong;
    ADD_FAILURE() << "row " << i << ": " << rows.signal_V[i] << " V, " << rows.temperature_K[i] << " K, "
                  << rows.humidity[i] << ", " << rows.pressure_Pa[i] << " Pa: " << got.dry[i] << " ("
                  << int{got.valid[i]} << ") and " << expected << (one ? "" : " " + one.error().what);
  }
  EXPECT_TRUE(wrong > 0 || got.count == valid);
}

/// Cells of all models: one and two points, with and without a temperature response.
std::vector<differences::Inputs> without_uncertainty() {
  auto all = differences::arrangements();
  for (auto& x : all) {
    differences::each_input(x, [](Input, auto& input) { input.u_si = 0.0; });
    x.gas.humidity_temperature.reset();
  }
  all.push_back(all.front());
  all.back().cell.response.coefficients.clear();
  return all;
}

TEST(ReadBatch, AgreesWithReadOxygenOnADenseGrid) {
  Columns rows;
  for (double mV = -1.0; mV <= 61.0; mV += 6.2)
    for (double t_C = -40.0; t_C <= 60.0; t_C += 10.0)
      for (double h = 0.0; h <= 1.05; h += 0.15)
        for (double p_kPa = 21.0; p_kPa <= 191.0; p_kPa += 34.0) rows.add(mV * 1e-3, t_C + 273.15, h, p_kPa * 1e3);
  ASSERT_GT(rows.signal_V.size(), 5000U);
  for (const auto& x : without_uncertainty()) {
    const Fractions got = batch(PreparedCell::from(x.cell, x.calibration).value(), rows);
    EXPECT_GT(got.count, rows.signal_V.size() * 9 / 10);
    expect_same(x, rows, got);
  }
}

TEST(ReadBatch, FlagsEveryRowThatHasNoReadingAndNeverGivesNaN) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double inf = std::numeric_limits<double>::infinity();
  const double odd[] = {nan,   inf,   -inf,      0.0,   -0.0,    5e-324, 1e308,    -1e308, 1e-3,
                        0.5,   1.05,  1.0500001, 20e3,  19999.9, 200e3,  200000.1, 233.15, 233.1,
                        300.0, 372.0, 647.0,     648.0, 1000.0,  1000.1, -1000.0,  100.0};
  Columns rows;
  for (const double value : odd) {
    rows.add(value, 300.0, 0.5, 1e5);
    rows.add(9e-3, value, 0.5, 1e5);
    rows.add(9e-3, value, 1.0, 30e3);
    rows.add(9e-3, 300.0, value, 1e5);
    rows.add(9e-3, 300.0, 0.5, value);
    rows.add(value, value, value, value);
  }
  for (const auto& x : without_uncertainty()) {
    const Fractions got = batch(PreparedCell::from(x.cell, x.calibration).value(), rows);
    EXPECT_LT(got.count, rows.signal_V.size());
    EXPECT_GE(got.count, 20U);
    for (std::size_t i = 0; i < rows.signal_V.size(); ++i) {
      EXPECT_TRUE(std::isfinite(got.dry[i])) << i;
      if (got.valid[i] == 0) {
        EXPECT_EQ(got.dry[i], 0.0) << i;
      }
    }
    expect_same(x, rows, got);
  }
}

// Signals this close make a line so steep that the fractions of most others overflow.
TEST(ReadBatch, FlagsAFractionThatOverflows) {
  differences::Inputs x = without_uncertainty().front();
  x.calibration.zero.value = Signal::from_si(0.0);
  x.calibration.span.signal.value = Signal::from_si(4e-306);
  Columns rows;
  for (double p_kPa = 20.0; p_kPa <= 200.0; p_kPa += 5.0)
    for (const double signal_V : {0.0, 1e-306, 1e-3, 30.0, 300.0, 1000.0}) rows.add(signal_V, 300.0, 0.5, p_kPa * 1e3);
  const Fractions got = batch(PreparedCell::from(x.cell, x.calibration).value(), rows);
  EXPECT_GT(got.count, 0U);
  EXPECT_LT(got.count, rows.signal_V.size());
  expect_same(x, rows, got);
}

TEST(ReadBatch, FlagsATemperatureAtWhichTheCellDoesNotRespond) {
  differences::Inputs x = without_uncertainty().front();
  x.cell.response = {celsius(20.0), {0.02}}; // nothing is left below -30 °C
  Columns rows;
  for (double t_C = -40.0; t_C <= 40.0; t_C += 0.5) rows.add(9e-3, t_C + 273.15, 0.5, 1e5);
  const Fractions got = batch(PreparedCell::from(x.cell, x.calibration).value(), rows);
  EXPECT_EQ(got.valid.front(), 0);
  EXPECT_EQ(got.valid.back(), 1);
  expect_same(x, rows, got);
}

TEST(ReadBatch, TakesNoRows) {
  const auto x = differences::arrangements().front();
  EXPECT_EQ(batch(PreparedCell::from(x.cell, x.calibration).value(), {}).count, 0U);
}

TEST(ReadBatchDeathTest, StopsAtColumnsOfUnequalLength) {
  const auto x = differences::arrangements().front();
  const PreparedCell cell = PreparedCell::from(x.cell, x.calibration).value();
  Columns rows;
  rows.add(9e-3, 300.0, 0.5, 1e5);
  std::vector<double> dry(1);
  std::vector<std::uint8_t> valid(2);
  EXPECT_DEATH(read_batch(cell, rows.view(), dry, valid), "valid.size\\(\\) == count");
}

} // namespace oxherd::compensation::batch_test
