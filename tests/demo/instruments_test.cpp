#include "demo/instruments.hpp"

#include <bit>
#include <cmath>

#include <gtest/gtest.h>

#include "compensation/oxygen_reading.hpp"

namespace oxherd::demo::instruments_test {

TrueAir air_with(double oxygen) {
  return {DryFraction::from_si(oxygen),
          DryFraction::from_si(420e-6),
          celsius(21.0),
          percent_humidity(45.0),
          kilopascals(99.8),
          0.0112};
}
const CellFacts& cell_a() { return *find_device("cryo-annexe/cell-a")->cell; }

double mV_in(const std::vector<std::uint16_t>& words) {
  return static_cast<double>(std::bit_cast<float>((std::uint32_t{words.at(0)} << 16) | words.at(1)));
}

TEST(SimulatedCell, GivesItsCalibrationSignalInTheAirOfItsCalibration) {
  const SimulatedCell cell{cell_a(), air_with(outdoor_oxygen), Noise{1}};
  EXPECT_NEAR(cell.settled().si() * 1e3, 12.6, 1e-9);
  EXPECT_NEAR(cell.uncorrected(), outdoor_oxygen, 1e-12);
}

// A first-order lag is at 90 % of a step after t90, by definition.
TEST(SimulatedCell, IsAtNineTenthsOfAStepAfterItsT90) {
  SimulatedCell cell{cell_a(), air_with(0.20), Noise{1}};
  const double before = cell.settled().si();
  const double after = SimulatedCell{cell_a(), air_with(0.10), Noise{1}}.settled().si();
  for (int s = 0; s < 15; ++s) cell.advance(air_with(0.10), 1.0);
  EXPECT_DOUBLE_EQ(cell_t90_s, 15.0);
  const double reached = (cell.settled().si() - before) / (after - before);
  EXPECT_NEAR(reached, 0.9, 1e-4); // 15 s of ageing take 5e-8 of the signal
}

TEST(SimulatedCell, LosesSensitivityAndNotZeroWithAge) {
  SimulatedCell cell{cell_a(), air_with(outdoor_oxygen), Noise{1}};
  cell.advance(air_with(outdoor_oxygen), 30.0 * 86400.0);
  EXPECT_NEAR(cell.settled().si() * 1e3, 0.4 + 12.2 * (1.0 - cell_ageing_per_month), 1e-9);
}

TEST(SimulatedCell, ScattersByItsNoise) {
  SimulatedCell cell{cell_a(), air_with(outdoor_oxygen), Noise{7}};
  constexpr int n = 10000;
  double sum = 0.0;
  double squares = 0.0;
  for (int i = 0; i < n; ++i) {
    cell.advance(air_with(outdoor_oxygen), 1e-6);
    const double off_mV = (cell.signal().si() - cell.settled().si()) * 1e3;
    sum += off_mV;
    squares += off_mV * off_mV;
  }
  EXPECT_NEAR(sum / n, 0.0, 4.0 * cell_noise_mV / std::sqrt(n));                              // four standard errors
  EXPECT_NEAR(std::sqrt(squares / n), cell_noise_mV, 4.0 * cell_noise_mV / std::sqrt(2 * n)); // the same
}

TEST(CellRegisters, HoldTheSignalAsFloat32HighWordFirst) {
  const SimulatedCell cell{cell_a(), air_with(outdoor_oxygen), Noise{1}};
  const auto words = registers_of(cell, Fault::none);
  ASSERT_EQ(words.size(), 3u);
  EXPECT_EQ(mV_in(words), static_cast<double>(static_cast<float>(cell.signal().si() * 1e3)));
  EXPECT_EQ(words[2], 0u);
}

TEST(CellRegisters, TellEachFaultOfACellApart) {
  const SimulatedCell cell{cell_a(), air_with(outdoor_oxygen), Noise{1}};
  EXPECT_EQ(registers_of(cell, Fault::dead), (std::vector<std::uint16_t>{0, 0, 0}));
  EXPECT_EQ(registers_of(cell, Fault::disconnected).at(2), 1u);
  EXPECT_GT(mV_in(registers_of(cell, Fault::disconnected)), 1000.0); // far outside any cell: the rail
  EXPECT_EQ(registers_of(cell, Fault::worn).at(2), 2u);
  EXPECT_NEAR(mV_in(registers_of(cell, Fault::worn)), 12.6, 1e-5);
}

TEST(SimulatedProbe, KeepsItsFixedErrorInsideTheStatedUncertainty) {
  for (std::uint64_t seed = 1; seed <= 200; ++seed) {
    const SimulatedProbe probe{true, air_with(outdoor_oxygen), Noise{seed}};
    EXPECT_LE(std::abs(probe.temperature().si() - 294.15), probe_u_temperature_K) << seed;
    EXPECT_LE(std::abs(probe.humidity().si() - 0.45), probe_u_humidity) << seed;
    EXPECT_LE(std::abs(probe.pressure().value().si() - 99800.0), probe_u_pressure_Pa) << seed;
  }
}

TEST(ProbeRegisters, AreInTenths) {
  const SimulatedProbe probe{true, air_with(outdoor_oxygen), Noise{3}};
  const auto words = registers_of(probe);
  ASSERT_EQ(words.size(), 3u);
  EXPECT_NEAR(words[0], (probe.temperature().si() - 273.15) * 10.0, 0.5);
  EXPECT_NEAR(words[1], probe.humidity().si() * 1000.0, 0.5);
  EXPECT_NEAR(words[2], probe.pressure().value().si() / 10.0, 0.5);
}

TEST(ProbeRegisters, GoBelowZeroAsTwosComplement) {
  TrueAir cold = air_with(0.02);
  cold.temperature = celsius(-12.3);
  const auto words = registers_of(SimulatedProbe{false, cold, Noise{3}});
  EXPECT_NEAR(static_cast<std::int16_t>(words.at(0)), -123, 2.0); // 0.15 K of fixed error, half a tenth of rounding
}

TEST(ProbeRegisters, SayNoValueWhereThereIsNoBarometer) {
  const auto words = registers_of(SimulatedProbe{false, air_with(0.02), Noise{3}});
  EXPECT_EQ(words.at(2), 65535u);
}

TEST(CarbonDioxideRegisters, HoldTheWetFractionInPpm) {
  TrueAir rich = air_with(outdoor_oxygen);
  rich.carbon_dioxide = DryFraction::from_si(1000e-6);
  const auto words = registers_of(SimulatedCarbonDioxide{rich, Noise{3}});
  ASSERT_EQ(words.size(), 1u);
  EXPECT_NEAR(words[0], 1000.0 * (1.0 - 0.0112), 10.5); // 1 % of fixed error, half of rounding
}

} // namespace oxherd::demo::instruments_test
