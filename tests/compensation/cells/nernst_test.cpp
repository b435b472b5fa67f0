#include "compensation/cells/nernst.hpp"

#include <cmath>
#include <limits>
#include <string>

#include <gtest/gtest.h>

#include "compensation/calibration.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::nernst_test {

using examples::gas_of;

Cell zirconia(double furnace_C = 700.0, GasConditions reference = gas_of(20.0, 0.5, 101325.0)) {
  return {.model = CellModel::nernst,
          .response = {},
          .nernst = NernstCell{.furnace = {celsius(furnace_C), 0.0},
                               .reference_air = reference,
                               .reference_oxygen = {DryFraction::from_si(0.20946), 0.0}}};
}

CalibrationPoint point(double signal_mV, double oxygen, const GasConditions& gas) {
  return {.signal = {millivolts(signal_mV), 0.0},
          .oxygen = {DryFraction::from_si(oxygen), 0.0},
          .gas = gas,
          .reference_air = {}};
}

/// Calibrated in its own reference air with a signal of zero: no asymmetry.
Calibration without_offset() {
  return {.span = point(0.0, 0.20946, gas_of(20.0, 0.5, 101325.0)), .zero = {}, .low = {}};
}

// Nernst equation with n = 4 and the exact constants of the SI, recomputed; 1000 K and a ratio of ten give 49.6 mV, the
// textbook's figure.
TEST(NernstLaw, GivesTheVoltageOfARatio) {
  struct Row {
    double furnace_K, ratio, printed_mV;
  };
  for (const auto& row :
       {Row{1000.0, 10.0, 49.60535778}, Row{973.15, 10.0, 48.27345392}, Row{973.15, 2.0946, 15.50065912},
        Row{923.15, 20.946, 60.4974284}, Row{1023.15, 10.473, 51.77240501}}) {
    SCOPED_TRACE(row.printed_mV);
    Surroundings at;
    at.p_Pa = 100e3;
    at.furnace_K = row.furnace_K;
    at.reference_Pa = 20e3;
    const double fraction = 0.2 / row.ratio;
    const double volts = cells::nernst.stimulus(fraction, at).value;
    EXPECT_NEAR(volts * 1e3 / row.printed_mV, 1.0, 1e-9);
    EXPECT_NEAR(cells::nernst.fraction(volts, at) / fraction, 1.0, 1e-14);
  }
}

// The inverse with humid reference air and a humid sample: recomputed from the Nernst equation, ps by IAPWS R7-97 and f
// by CIPM-2007.
TEST(NernstCell, ReadsAHumidSampleAgainstHumidReferenceAir) {
  const auto reading = read_oxygen(zirconia(), without_offset(), {millivolts(15.5), 0.0}, gas_of(25.0, 0.8, 99000.0));
  ASSERT_TRUE(reading) << reading.error().what;
  EXPECT_NEAR(reading->po2.si() / 10015.38329, 1.0, 1e-9);
  EXPECT_NEAR(reading->wet.si() / 0.101165488, 1.0, 5e-9); // nine digits are printed
  EXPECT_NEAR(reading->dry.si() / 0.103836003, 1.0, 5e-9);
}

// Derivative of the Nernst equation at 700 °C: 4.77 % per millivolt.
TEST(NernstCell, HasThePublishedSensitivity) {
  const auto reading = read_oxygen(zirconia(), without_offset(), {millivolts(15.5), 1e-3}, gas_of(25.0, 0.8, 99000.0));
  ASSERT_TRUE(reading);
  EXPECT_NEAR(reading->budget[0] / reading->dry.si(), 0.0476988, 0.5e-7);
}

// A furnace at 705 °C that is taken for 700 °C, at 15.5 mV: recomputed.
TEST(NernstCell, ShowsTheEffectOfAWrongFurnaceTemperature) {
  const GasConditions gas = gas_of(25.0, 0.8, 99000.0);
  const double nominal = read_oxygen(zirconia(700.0), without_offset(), {millivolts(15.5), 0.0}, gas).value().dry.si();
  const double hotter = read_oxygen(zirconia(705.0), without_offset(), {millivolts(15.5), 0.0}, gas).value().dry.si();
  EXPECT_NEAR(hotter / nominal - 1.0, 0.0037864, 0.5e-7);
}

TEST(NernstCell, TakesTheAsymmetryOffsetFromOnePointAndNoZero) {
  Calibration calibration = without_offset();
  calibration.span.signal.value = millivolts(-1.8);
  calibration.zero = {millivolts(5.0), 0.1}; // not used
  const auto cell = characterise(zirconia(), calibration).value();
  EXPECT_NEAR(cell.zero.value.si(), -1.8e-3, 1e-17);
  EXPECT_EQ(cell.sensitivity, 1.0);
  EXPECT_EQ(cell.u_sensitivity, 0.0);
  EXPECT_EQ(cell.sensitivity_unit, "");
  const auto reading = read_oxygen(zirconia(), calibration, {millivolts(13.7), 0.0}, gas_of(25.0, 0.8, 99000.0));
  EXPECT_NEAR(reading.value().po2.si() / 10015.38329, 1.0, 1e-9) << "13.7 mV + 1.8 mV = 15.5 mV";
  EXPECT_EQ(reading.value().budget[static_cast<std::size_t>(Input::zero)], 0.0);
}

TEST(NernstCell, TakesSlopeFactorAndOffsetFromTwoPoints) {
  const GasConditions air = gas_of(20.0, 0.5, 101325.0);
  const GasConditions dry = gas_of(22.0, 0.0, 100000.0);
  const double ideal_V = expected_signal(zirconia(), without_offset(), DryFraction::from_si(0.02), dry).value().si();
  Calibration calibration{
      .span = point(1.2, 0.20946, air), .zero = {}, .low = point(1.2 + 0.95 * ideal_V * 1e3, 0.02, dry)};
  const auto cell = characterise(zirconia(), calibration).value();
  EXPECT_NEAR(cell.sensitivity, 0.95, 1e-13);
  EXPECT_NEAR(cell.zero.value.si(), 1.2e-3, 1e-16);
  const Signal at_half = expected_signal(zirconia(), calibration, DryFraction::from_si(0.1), dry).value();
  EXPECT_NEAR(read_oxygen(zirconia(), calibration, {at_half, 0.0}, dry).value().dry.si(), 0.1, 1e-13);
}

// Both sides of the cell follow the weather: fresh air gives the offset on any day. Without knowing the reference air
// of the calibration, the fall from 1013 hPa to 980 hPa would show as 3.4 % more oxygen.
TEST(NernstCell, KnowsThatTheReferenceSideFollowsTheWeather) {
  const GasConditions then = gas_of(20.0, 0.5, 101325.0);
  const GasConditions now = gas_of(20.0, 0.5, 98000.0);
  Calibration calibration = without_offset();
  const double unaware = read_oxygen(zirconia(700.0, now), calibration, {millivolts(0.0), 0.0}, now).value().dry.si();
  EXPECT_GT(unaware, 0.20946 * 1.03);
  calibration.span.reference_air = then;
  const auto reading = read_oxygen(zirconia(700.0, now), calibration, {millivolts(0.0), 0.0}, now).value();
  EXPECT_NEAR(reading.dry.si(), 0.20946, 1e-14);
  EXPECT_NEAR(reading.factors.pressure, 1.0, 1e-14);
}

TEST(NernstCell, HasFactorsThatMultiplyToTheCorrection) {
  Calibration calibration = without_offset();
  calibration.span.reference_air = gas_of(10.0, 0.9, 99000.0);
  const auto reading =
      read_oxygen(zirconia(), calibration, {millivolts(15.5), 0.0}, gas_of(25.0, 0.8, 97000.0)).value();
  const Factors& f = reading.factors;
  EXPECT_EQ(f.temperature, 1.0) << "the furnace sets the temperature";
  EXPECT_NEAR(f.pressure, 101325.0 / 97000.0 * (101325.0 / 99000.0), 1e-14);
  EXPECT_NEAR(reading.uncorrected * f.temperature * f.pressure * f.humidity / reading.dry.si(), 1.0, 1e-14);
  EXPECT_NEAR(reading.uncorrected / (0.20946 * std::exp(-15.5e-3 / (0.0215433331554e-3 * 973.15))), 1.0, 1e-10)
      << "what the signal means in the gas of the calibration";
}

TEST(NernstCell, RefusesPartsThatDoNotFit) {
  const GasConditions gas = gas_of(25.0, 0.8, 99000.0);
  const auto refusal = [&](const Cell& cell, const Calibration& calibration, double signal_mV = 15.5) -> std::string {
    const auto reading = read_oxygen(cell, calibration, {millivolts(signal_mV), 0.0}, gas);
    return reading ? "accepted" : reading.error().what;
  };
  Cell bare = zirconia();
  bare.nernst.reset();
  EXPECT_EQ(refusal(bare, without_offset()),
            "a nernst cell needs its furnace temperature and the conditions of its reference air");
  Cell galvanic = zirconia();
  galvanic.model = CellModel::concentration;
  EXPECT_EQ(refusal(galvanic, without_offset()),
            "a concentration cell has no furnace and no reference air; these belong to a nernst cell");
  Cell responding = zirconia();
  responding.response.coefficients = {0.01};
  EXPECT_EQ(refusal(responding, without_offset()),
            "a nernst cell takes no temperature response: its furnace sets the temperature");
  EXPECT_EQ(refusal(zirconia(20.0), without_offset()),
            "zirconia cell: the furnace temperature is 20 °C; 300 °C to 1700 °C is accepted");
  EXPECT_NE(refusal(zirconia(700.0, gas_of(20.0, 0.5, 0.0)), without_offset()), "accepted");
  Calibration in_nitrogen = without_offset();
  in_nitrogen.low = point(90.0, 0.0, gas);
  EXPECT_EQ(refusal(zirconia(), in_nitrogen), "low point: the oxygen fraction is 0 %; 0.0001 % to 100 % is accepted");
  EXPECT_EQ(
      refusal(zirconia(), without_offset(), -100e3),
      "sample: a signal of -100000 mV is too far from the calibration for a finite oxygen fraction; check the signal's "
      "unit and the calibration");
  EXPECT_NE(refusal(zirconia(), without_offset(), 100e3), "accepted") << "underflows to no oxygen at all";
  EXPECT_FALSE(expected_signal(zirconia(), without_offset(), DryFraction::from_si(0.0), gas));
}

} // namespace oxherd::compensation::nernst_test
