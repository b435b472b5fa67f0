#include "compensation/prepared_cell.hpp"

#include <gtest/gtest.h>

#include "tests/compensation/differences.hpp"
#include "tests/compensation/examples.hpp"
#include "tests/compensation/same_reading.hpp"

namespace oxherd::compensation::prepared_cell_test {

TEST(PreparedCell, GivesTheReadingOfReadOxygenBitForBit) {
  for (const auto& x : differences::arrangements()) {
    const auto prepared = PreparedCell::from(x.cell, x.calibration);
    ASSERT_TRUE(prepared) << prepared.error().what;
    for (const double signal_mV : {0.7, 5.0, 9.3, 14.0, 35.0}) {
      for (const double t_C : {-12.0, 8.0, 31.0}) {
        GasConditions gas = x.gas;
        gas.temperature.value = celsius(t_C);
        const Uncertain<Signal> signal{millivolts(signal_mV), 2e-5};
        const auto once = read_oxygen(x.cell, x.calibration, signal, gas, x.errors);
        const auto again = prepared->read(signal, gas, x.errors);
        ASSERT_TRUE(once) << once.error().what;
        ASSERT_TRUE(again) << again.error().what;
        EXPECT_EQ(same_reading::bits_of(*again), same_reading::bits_of(*once));
      }
    }
  }
}

TEST(PreparedCell, RefusesWhatAReadingWouldRefuseInTheSameWords) {
  const auto good = differences::arrangements().front();
  auto without_span = good;
  without_span.calibration.zero.value = without_span.calibration.span.signal.value;
  const auto prepared = PreparedCell::from(without_span.cell, without_span.calibration);
  ASSERT_FALSE(prepared);
  EXPECT_EQ(prepared.error().what, differences::read(without_span).error().what);
  const PreparedCell cell = PreparedCell::from(good.cell, good.calibration).value();
  auto in_vacuum = good.gas;
  in_vacuum.pressure.value = pascals(0.0);
  const auto refused = cell.read(good.signal, in_vacuum);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().what, read_oxygen(good.cell, good.calibration, good.signal, in_vacuum).error().what);
  EXPECT_FALSE(cell.read({millivolts(2e6), 0.0}, good.gas));
  EXPECT_FALSE(cell.read(good.signal, good.gas, {.drift = -1.0}));
}

TEST(PreparedCell, RefusesAReferenceAirThatIsNotThere) {
  auto x = differences::arrangements().back();
  ASSERT_TRUE(x.cell.nernst);
  x.calibration.span.reference_air = x.gas;
  x.calibration.low->reference_air = x.gas;
  ASSERT_TRUE(PreparedCell::from(x.cell, x.calibration));
  x.cell.nernst->reference_air.pressure.value = pascals(1.0); // that of the readings, no longer that of the points
  const auto prepared = PreparedCell::from(x.cell, x.calibration);
  ASSERT_FALSE(prepared);
  EXPECT_EQ(prepared.error().what, "reference air: the pressure is 0.001 kPa; 20 kPa to 200 kPa is accepted");
}

TEST(PreparedCell, KeepsItsOwnCopyOfWhatItWasMadeFrom) {
  auto x = differences::arrangements().front();
  const PreparedCell cell = PreparedCell::from(x.cell, x.calibration).value();
  const auto before = cell.read(x.signal, x.gas).value();
  x.cell.response.coefficients.assign(2, 0.5);
  x.calibration.span.signal.value = millivolts(1.0);
  const PreparedCell copy = cell;
  EXPECT_EQ(same_reading::bits_of(copy.read(x.signal, x.gas).value()), same_reading::bits_of(before));
}

} // namespace oxherd::compensation::prepared_cell_test
