#include "compensation/calibration.hpp"

#include <gtest/gtest.h>

#include "tests/compensation/differences.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::calibration_test {

// E1: net signal over the oxygen at calibration, 20 668.648767 Pa (computed with 50 digits) at 294.15 K.
TEST(Characterise, DerivesSensitivityAndZeroOfAGalvanicCell) {
  const auto& example = examples::all[0];
  const auto cell = characterise(examples::cell_of(example), examples::calibration_of(example));
  ASSERT_TRUE(cell);
  const double molar = 20668.648767 / (8.31446261815324 * 294.15);
  EXPECT_NEAR(cell->sensitivity / (12.2e-3 / molar), 1.0, 1e-10);
  EXPECT_EQ(cell->sensitivity_unit, "V/(mol/m3)");
  EXPECT_EQ(cell->zero.value, millivolts(0.4));
  EXPECT_EQ(cell->u_sensitivity, 0.0) << "no input was uncertain";
}

// Partial pressure at calibration of E3 and wet fraction of E9, computed with 50 digits.
TEST(Characterise, GivesTheUnitOfEveryModel) {
  const auto e3 = characterise(examples::cell_of(examples::all[2]), examples::calibration_of(examples::all[2])).value();
  EXPECT_NEAR(e3.sensitivity / (9.8e-3 / 20890.1887136), 1.0, 1e-10);
  EXPECT_EQ(e3.sensitivity_unit, "V/Pa");
  const auto e9 = characterise(examples::cell_of(examples::all[8]), examples::calibration_of(examples::all[8])).value();
  EXPECT_NEAR(e9.sensitivity / (0.1 / 0.20946), 1.0, 1e-12);
  EXPECT_EQ(e9.sensitivity_unit, "V");
}

// A made-up cell of known sensitivity and zero is found again from two points in different gases on different days.
TEST(Characterise, FindsTheCellBehindTwoPoints) {
  const auto& example = examples::all[6]; // with a temperature response
  const Cell cell = examples::cell_of(example);
  const Calibration truth = examples::calibration_of(example);
  const GasConditions cold = examples::gas_of(8.0, 0.2, 97000.0);
  Calibration two_points = truth;
  two_points.zero = {millivolts(999.0), 1.0}; // `low` replaces it
  two_points.low =
      CalibrationPoint{.signal = {expected_signal(cell, truth, DryFraction::from_si(0.03), cold).value(), 0.0},
                       .oxygen = {DryFraction::from_si(0.03), 0.0},
                       .gas = cold,
                       .reference_air = {}};
  const auto found = characterise(cell, two_points).value();
  const auto known = characterise(cell, truth).value();
  EXPECT_NEAR(found.sensitivity / known.sensitivity, 1.0, 1e-13);
  EXPECT_NEAR(found.zero.value.si(), 0.1e-3, 1e-16);
  const auto reading = read_oxygen(cell, two_points, {millivolts(example.signal_mV), 0.0},
                                   examples::gas_of(example.t_C, example.h, example.p_Pa));
  EXPECT_NEAR(reading.value().dry.si() / example.dry, 1.0, 1e-10);
  EXPECT_NEAR(reading.value().uncorrected / example.uncorrected, 1.0, 1e-10);
}

TEST(Characterise, TakesALowPointInNitrogenForAZero) {
  examples::Propagated by_zero;
  examples::Propagated by_low;
  by_low.calibration.low = CalibrationPoint{.signal = by_low.calibration.zero,
                                            .oxygen = {DryFraction::from_si(0.0), 0.0},
                                            .gas = differences::uncertain_gas(23.0, 0.0, 101325.0),
                                            .reference_air = {}};
  const auto a = read_oxygen(by_zero.cell, by_zero.calibration, by_zero.signal, by_zero.gas).value();
  const auto b = read_oxygen(by_low.cell, by_low.calibration, by_low.signal, by_low.gas).value();
  EXPECT_NEAR(a.dry.si(), b.dry.si(), 1e-16);
  EXPECT_NEAR(a.u_dry, b.u_dry, 1e-16);
  EXPECT_EQ(b.budget[static_cast<std::size_t>(Input::zero)], 0.0);
  EXPECT_NEAR(b.budget[static_cast<std::size_t>(Input::low_signal)], a.budget[static_cast<std::size_t>(Input::zero)],
              1e-16);
  EXPECT_EQ(b.budget[static_cast<std::size_t>(Input::low_oxygen)], 0.0)
      << "without oxygen the gas's conditions are moot";
}

TEST(Characterise, HasUncertaintiesThatAgreeWithNumericDifferentiation) {
  const auto all = differences::arrangements();
  for (std::size_t i = 0; i < all.size(); ++i) {
    SCOPED_TRACE(i);
    const auto known = characterise(all[i].cell, all[i].calibration).value();
    const auto numeric = [&](auto output) {
      return differences::combined_numeric(differences::numeric_budget(
          all[i], [&](const auto& in) { return output(characterise(in.cell, in.calibration).value()); }));
    };
    const double u_sensitivity = numeric([](const auto& c) { return c.sensitivity; });
    const double u_zero = numeric([](const auto& c) { return c.zero.value.si(); });
    EXPECT_NEAR(known.u_sensitivity, u_sensitivity, 1e-6 * u_sensitivity);
    EXPECT_NEAR(known.zero.u_si, u_zero, 1e-6 * u_zero);
    EXPECT_GT(known.zero.u_si, 0.0);
  }
}

TEST(Characterise, RefusesWhatAReadingWouldRefuse) {
  Calibration calibration = examples::calibration_of(examples::all[0]);
  calibration.span.signal.value = calibration.zero.value;
  EXPECT_FALSE(characterise({}, calibration));
  calibration = examples::calibration_of(examples::all[0]);
  calibration.span.gas.pressure.value = pascals(0.0);
  EXPECT_FALSE(characterise({}, calibration));
}

} // namespace oxherd::compensation::calibration_test
