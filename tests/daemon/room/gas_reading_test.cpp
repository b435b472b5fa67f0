#include "daemon/room/gas_reading.hpp"

#include <cmath>

#include <gtest/gtest.h>

// What the signal of a cell may be wrong by beside its own noise.
namespace oxherd::daemon::gas_reading_test {

using compensation::Input;

constexpr WallTime calibrated{std::chrono::milliseconds{1'772'352'930'000}};
/// Two months of 30.4375 days later.
constexpr WallTime two_months_on = calibrated + std::chrono::hours{1461};

compensation::GasConditions air() {
  compensation::GasConditions gas;
  gas.temperature = {celsius(21.0), 0.3};
  gas.humidity = {percent_humidity(45.0), 0.03};
  gas.pressure = {pascals(99800.0), 50.0};
  return gas;
}

ReadingBasis basis_of(double drift_per_month) {
  ReadingBasis basis;
  auto& cell = basis.cell.emplace();
  cell.drift_per_month = drift_per_month;
  auto& active = basis.calibration.emplace();
  active.calibration.span.signal = {millivolts(12.6), 0.02e-3};
  active.calibration.span.gas = air();
  active.calibration.zero = {millivolts(0.4), 0.05e-3};
  active.at = calibrated;
  return basis;
}

OxygenInputs midway() {
  OxygenInputs inputs;
  inputs.si = 6.5e-3; // half of the span above the zero
  inputs.gas = air();
  return inputs;
}

compensation::OxygenReading read(const ReadingBasis& basis, WallTime at) {
  const auto reading = oxygen_reading(basis, midway(), at);
  EXPECT_TRUE(reading.oxygen);
  return reading.oxygen.value_or(compensation::OxygenReading{});
}

double entry(const compensation::OxygenReading& reading, Input input) {
  return std::abs(reading.budget[static_cast<std::size_t>(input)]);
}

// GUM (JCGM 100:2008), 4.3.7: a rectangular distribution of half-width a has the standard uncertainty a / sqrt(3).
TEST(OxygenReading, CountsDriftSinceTheCalibrationByItself) {
  const auto reading = read(basis_of(0.01), two_months_on);
  EXPECT_NEAR(entry(reading, Input::drift), reading.dry.si() * 0.02 / std::sqrt(3.0), 1e-12);
  const auto fresh = read(basis_of(0.01), calibrated);
  EXPECT_EQ(entry(fresh, Input::drift), 0.0);
  EXPECT_EQ(entry(reading, Input::cal_signal), entry(fresh, Input::cal_signal)); // the calibration is what it was
  EXPECT_NEAR(reading.u_dry, std::hypot(fresh.u_dry, entry(reading, Input::drift)), 1e-15);
}

TEST(OxygenReading, CountsNoDriftForACalibrationOfUnknownOrLaterDate) {
  EXPECT_EQ(entry(read(basis_of(0.01), calibrated - std::chrono::hours{1}), Input::drift), 0.0);
  auto undated = basis_of(0.01);
  undated.calibration->at.reset();
  EXPECT_EQ(entry(read(undated, two_months_on), Input::drift), 0.0);
}

// GUM 4.3.7 and F.2.2.1: a step d has u = d / sqrt(12). Linearity: as SignalErrors defines it, largest midway.
TEST(OxygenReading, CountsResolutionAndLinearityOfTheCell) {
  auto basis = basis_of(0.0);
  basis.cell->resolution = millivolts(0.1);
  basis.cell->linearity = 0.01;
  const auto reading = read(basis, two_months_on);
  const double per_volt = reading.dry.si() / 6.1e-3; // the zero is 0.4 mV
  EXPECT_NEAR(entry(reading, Input::resolution), per_volt * 0.1e-3 / std::sqrt(12.0), 1e-12);
  EXPECT_NEAR(entry(reading, Input::linearity), per_volt * 0.01 * 12.2e-3, 1e-12);
  EXPECT_EQ(entry(read(basis_of(0.0), calibrated), Input::resolution), 0.0);
}

} // namespace oxherd::daemon::gas_reading_test
