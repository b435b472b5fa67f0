// A batch with uncertainty is the very reading of PreparedCell, row by row: not nearly, but bit for bit.
#include <array>
#include <bit>
#include <cmath>
#include <limits>
#include <random>
#include <vector>

#include <gtest/gtest.h>

#include "compensation/batch.hpp"
#include "tests/compensation/differences.hpp"

namespace oxherd::compensation::batch_reading_test {

struct Column {
  std::vector<double> value, u;
  [[nodiscard]] UncertainColumn view() const { return {value, u}; }
};

/// Rows with their uncertainties; `probe` stays empty where one thermometer serves both.
struct Rows {
  Column signal, temperature, humidity, probe, pressure;

  void add(const Uncertain<Signal>& signal_of_row, const GasConditions& gas) {
    const auto put = [](Column& to, double value, double u) {
      to.value.push_back(value);
      to.u.push_back(u);
    };
    put(signal, signal_of_row.value.si(), signal_of_row.u_si);
    put(temperature, gas.temperature.value.si(), gas.temperature.u_si);
    put(humidity, gas.humidity.value.si(), gas.humidity.u_si);
    if (gas.humidity_temperature) put(probe, gas.humidity_temperature->value.si(), gas.humidity_temperature->u_si);
    put(pressure, gas.pressure.value.si(), gas.pressure.u_si);
  }
  [[nodiscard]] std::size_t size() const { return signal.value.size(); }
  [[nodiscard]] UncertainColumns view() const {
    return {signal.view(), temperature.view(), humidity.view(), probe.view(), pressure.view()};
  }
  [[nodiscard]] tl::expected<OxygenReading, ReadingError> read_one(const PreparedCell& cell, const SignalErrors& errors,
                                                                   std::size_t i) const {
    GasConditions gas{.temperature = {kelvins(temperature.value[i]), temperature.u[i]},
                      .humidity = {RelativeHumidity::from_si(humidity.value[i]), humidity.u[i]},
                      .humidity_temperature = {},
                      .pressure = {pascals(pressure.value[i]), pressure.u[i]}};
    if (!probe.value.empty()) gas.humidity_temperature = Uncertain<Temperature>{kelvins(probe.value[i]), probe.u[i]};
    return cell.read({Signal::from_si(signal.value[i]), signal.u[i]}, gas, errors);
  }
};

struct Readings {
  explicit Readings(std::size_t rows) : valid(rows, 77) { columns.fill(std::vector<double>(rows, -1.0)); }
  [[nodiscard]] ReadingColumns view() {
    auto& c = columns;
    return {c[0], c[1], c[2], c[3], c[4], c[5], c[6], c[7], valid};
  }
  std::array<std::vector<double>, 8> columns;
  std::vector<std::uint8_t> valid;
};

std::array<double, 8> numbers_of(const OxygenReading& r) {
  return {r.dry.si(), r.u_dry, r.wet.si(), r.u_wet, r.po2.si(), r.u_po2_Pa, r.uncorrected, r.vapour.si()};
}

/// Compares with single readings and says how many rows have one.
std::size_t expect_same(const differences::Inputs& x, const Rows& rows, const SignalErrors& errors) {
  const auto cell = PreparedCell::from(x.cell, x.calibration).value();
  Readings got{rows.size()};
  const std::size_t count = read_batch(cell, rows.view(), errors, got.view());
  std::size_t valid = 0;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    const auto one = rows.read_one(cell, errors, i);
    valid += one ? 1 : 0;
    const auto expected = one ? numbers_of(*one) : std::array<double, 8>{};
    EXPECT_EQ(got.valid[i], one ? 1 : 0) << i << (one ? "" : ": " + one.error().what);
    for (std::size_t k = 0; k < expected.size(); ++k)
      EXPECT_EQ(std::bit_cast<std::uint64_t>(got.columns[k][i]), std::bit_cast<std::uint64_t>(expected[k]))
          << "row " << i << ", column " << k << ": " << got.columns[k][i] << " and " << expected[k];
    if (testing::Test::HasFailure()) break; // one row says enough
  }
  EXPECT_EQ(count, valid);
  return count;
}

TEST(ReadBatchWithUncertainty, IsBitForBitThePreparedReadingOfEveryCellModel) {
  std::mt19937 random{20261126};
  const auto between = [&](double low, double high) { return std::uniform_real_distribution{low, high}(random); };
  for (auto x : differences::arrangements()) {
    x.calibration.probes = {.temperature = between(0.0, 1.0), .humidity = 0.0, .pressure = 1.0};
    Rows rows;
    for (int i = 0; i < 2001; ++i) { // not a whole number of lanes
      auto gas = x.gas;
      gas.temperature = {celsius(between(-40.0, 60.0)), between(0.0, 1.0)};
      gas.humidity = {RelativeHumidity::from_si(between(0.0, 1.05)), between(0.0, 0.1)};
      if (gas.humidity_temperature) gas.humidity_temperature = {celsius(between(-40.0, 60.0)), between(0.0, 1.0)};
      gas.pressure = {pascals(between(20e3, 200e3)), between(0.0, 1e3)};
      rows.add({millivolts(between(-1.0, 60.0)), between(0.0, 1e-4)}, gas);
    }
    EXPECT_GT(expect_same(x, rows, x.errors), 1800U);
    expect_same(x, rows, {});
  }
}

TEST(ReadBatchWithUncertainty, RefusesTheRowsThatASingleReadingRefuses) {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  const double inf = std::numeric_limits<double>::infinity();
  const double odd[] = {nan,  inf,       -inf, 0.0,     -0.0,  5e-324,   1e308,  -1e308, 1e-3,  0.5,  1.05,
                        1.06, 1.0500001, 20e3, 19999.9, 200e3, 200000.1, 233.15, 233.1,  300.0, 372.0};
  for (const auto& x : differences::arrangements()) {
    Rows rows;
    for (const double value : odd) {
      const auto one = [&](auto change) {
        auto signal = x.signal;
        auto gas = x.gas;
        change(signal, gas);
        rows.add(signal, gas);
      };
      one([](auto&, auto&) {});
      one([&](auto& signal, auto&) { signal.value = Signal::from_si(value); });
      one([&](auto& signal, auto&) { signal.u_si = value; });
      one([&](auto&, auto& gas) { gas.temperature.value = kelvins(value); });
      one([&](auto&, auto& gas) { gas.temperature.u_si = value; });
      one([&](auto&, auto& gas) { gas.humidity.value = RelativeHumidity::from_si(value); });
      one([&](auto&, auto& gas) { gas.humidity.u_si = value; });
      one([&](auto&, auto& gas) { gas.pressure.value = pascals(value); });
      one([&](auto&, auto& gas) { gas.pressure.u_si = value; });
      if (!x.gas.humidity_temperature) continue;
      one([&](auto&, auto& gas) { gas.humidity_temperature->value = kelvins(value); });
      one([&](auto&, auto& gas) { gas.humidity_temperature->u_si = value; });
    }
    const auto count = expect_same(x, rows, x.errors);
    EXPECT_GT(count, rows.size() / 10);
    EXPECT_LT(count, rows.size());
  }
}

TEST(ReadBatchWithUncertainty, HasNoReadingWithErrorsOfTheSignalThatAreNone) {
  const auto x = differences::arrangements().front();
  Rows rows;
  for (int i = 0; i < 3; ++i) rows.add(x.signal, x.gas);
  EXPECT_EQ(expect_same(x, rows, x.errors), 3U);
  for (const SignalErrors& errors : {SignalErrors{.resolution_V = -1.0}, SignalErrors{.linearity = std::nan("")},
                                     SignalErrors{.drift = std::numeric_limits<double>::infinity()}})
    EXPECT_EQ(expect_same(x, rows, errors), 0U);
}

// Signals this close make a line so steep that most fractions overflow.
TEST(ReadBatchWithUncertainty, RefusesAFractionThatOverflows) {
  auto x = differences::arrangements().front();
  x.calibration.zero.value = Signal::from_si(0.0);
  x.calibration.span.signal.value = Signal::from_si(4e-306);
  Rows rows;
  for (const double signal_V : {0.0, 1e-306, 1e-3, 30.0, 300.0, 1000.0})
    rows.add({Signal::from_si(signal_V), 0.0}, x.gas);
  EXPECT_LT(expect_same(x, rows, {}), rows.size());
}

TEST(ReadBatchWithUncertainty, RefusesATemperatureAtWhichTheCellDoesNotRespond) {
  auto x = differences::arrangements().front();
  x.cell.response = {celsius(20.0), {0.02}}; // nothing is left below -30 °C
  Rows rows;
  for (const double t_C : {-39.0, -31.0, -29.0, 20.0}) {
    x.gas.temperature.value = celsius(t_C);
    rows.add(x.signal, x.gas);
  }
  EXPECT_EQ(expect_same(x, rows, x.errors), 2U);
}

TEST(ReadBatchWithUncertaintyDeathTest, StopsAtColumnsOfUnequalLength) {
  const auto x = differences::arrangements().front();
  const auto cell = PreparedCell::from(x.cell, x.calibration).value();
  Rows rows;
  rows.add(x.signal, x.gas);
  Readings two{2};
  EXPECT_DEATH(read_batch(cell, rows.view(), {}, two.view()), "out.size\\(\\) == count");
}

} // namespace oxherd::compensation::batch_reading_test
