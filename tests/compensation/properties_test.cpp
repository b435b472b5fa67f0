// Properties that hold for all inputs. A failure prints its seed and a configuration to repeat it; RC_PARAMS="seed=N"
// accepts one.
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "compensation/batch.hpp"
#include "compensation/cells/catalogue.hpp"
#include "compensation/moist_air.hpp"
#include "compensation/oxygen_reading.hpp"
#include "compensation/units.hpp"
#include "tests/compensation/differences.hpp"
#include "tests/compensation/generators.hpp"
#include "tests/compensation/same_reading.hpp"

namespace oxherd::compensation::properties_test {

using generators::any_calibration;
using generators::any_cell;
using generators::any_errors;
using generators::any_gas;
using generators::between;

OxygenReading read(const Cell& cell, const Calibration& calibration, Signal signal, const GasConditions& gas) {
  const auto reading = read_oxygen(cell, calibration, {signal, 1e-5}, gas, any_errors());
  if (!reading) RC_FAIL(reading.error().what);
  return *reading;
}

void close(double a, double b, double relative) {
  RC_LOG() << a << " and " << b << '\n';
  RC_ASSERT(std::fabs(a - b) <= relative * std::fmax(std::fabs(a), std::fabs(b)));
}

RC_GTEST_PROP(OxygenProperty, TheCalibrationItselfReadsItsReferenceFraction, ()) {
  const Cell cell = any_cell();
  const Calibration calibration = any_calibration(cell);
  Cell then = cell;
  if (calibration.span.reference_air) then.nernst->reference_air = *calibration.span.reference_air;
  const auto reading = read(then, calibration, calibration.span.signal.value, calibration.span.gas);
  close(reading.dry.si(), calibration.span.oxygen.value.si(), 1e-12);
  close(reading.uncorrected, calibration.span.oxygen.value.si(), 1e-12);
}

RC_GTEST_PROP(OxygenProperty, TheForwardModelIsTheExactInverse, ()) {
  const Cell cell = any_cell();
  const Calibration calibration = any_calibration(cell);
  const GasConditions gas = any_gas();
  const double oxygen = *between(0.005, 0.35);
  const auto signal = expected_signal(cell, calibration, DryFraction::from_si(oxygen), gas);
  RC_ASSERT(signal.has_value());
  close(read(cell, calibration, *signal, gas).dry.si(), oxygen, 1e-12);
}

RC_GTEST_PROP(OxygenProperty, FactorsMultiplyToTheCorrection, ()) {
  const Cell cell = any_cell();
  const Calibration calibration = any_calibration(cell);
  const auto reading = read(cell, calibration, millivolts(*between(1.0, 14.0)), any_gas());
  const Factors& f = reading.factors;
  close(reading.uncorrected * f.temperature * f.pressure * f.humidity, reading.dry.si(), 1e-12);
}

RC_GTEST_PROP(OxygenProperty, FactorsComposeOverAThirdCondition, ()) {
  const Cell cell = any_cell();
  const cells::Law& law = cells::law_of(cell.model);
  std::vector<Surroundings> at;
  for (int i = 0; i < 3; ++i) {
    const GasConditions air = any_gas();
    at.push_back(resolve_at_cell(cell, any_gas(), &air, "gas").value());
  }
  const auto total = [&](const Surroundings& to, const Surroundings& from) {
    const Factors f = law.factors(to, from);
    return f.temperature * f.pressure * f.humidity;
  };
  close(total(at[1], at[0]) * total(at[2], at[1]), total(at[2], at[0]), 1e-14);
}

RC_GTEST_PROP(OxygenProperty, TheFractionIsMonotoneInTheSignal, ()) {
  const Cell cell = any_cell();
  const Calibration calibration = any_calibration(cell);
  const GasConditions gas = any_gas();
  const double first_mV = *between(0.0, 14.0);
  const double more_mV = first_mV + *between(1e-6, 3.0);
  const double first = read(cell, calibration, millivolts(first_mV), gas).dry.si();
  const double second = read(cell, calibration, millivolts(more_mV), gas).dry.si();
  if (cell.model == CellModel::nernst) { // more voltage, less oxygen
    RC_ASSERT(second < first);
  } else {
    RC_ASSERT(second > first);
  }
}

/// More of a condition, everything else the same.
RC_GTEST_PROP(OxygenProperty, TheFractionRisesWithTemperatureAndFallsWithPressure, ()) {
  Cell cell = any_cell();
  cell.response.coefficients.clear(); // it may bend either way
  const Calibration calibration = any_calibration(cell);
  GasConditions gas = any_gas();
  gas.humidity_temperature.reset();
  gas.humidity.value = RelativeHumidity::from_si(*between(0.05, 1.0));
  const Signal signal = expected_signal(cell, calibration, DryFraction::from_si(*between(0.05, 0.3)), gas).value();
  const double before = read(cell, calibration, signal, gas).dry.si();
  // Warmer gas at the same relative humidity holds more vapour, so that every model finds more oxygen in the dry part;
  // the amount per volume falls with 1/T besides.
  GasConditions warmer = gas;
  const double rise_K = *between(0.1, 10.0);
  warmer.temperature.value = kelvins(gas.temperature.value.si() + rise_K);
  const double when_warmer = read(cell, calibration, signal, warmer).dry.si();
  RC_ASSERT(when_warmer > before);
  if (cell.model == CellModel::concentration)
    RC_ASSERT(when_warmer / before > (gas.temperature.value.si() + rise_K) / gas.temperature.value.si());
  // At a higher pressure the same partial pressure is a smaller fraction. A mole fraction stays, but the vapour's part
  // of the gas falls.
  GasConditions denser = gas;
  const double factor = *between(1.001, 1.2);
  denser.pressure.value = gas.pressure.value * factor;
  const double when_denser = read(cell, calibration, signal, denser).dry.si();
  RC_ASSERT(when_denser < before);
  if (cell.model != CellModel::mole_fraction) RC_ASSERT(when_denser < before / factor);
}

RC_GTEST_PROP(OxygenProperty, DryGasLeavesAMoleFractionAlone, ()) {
  Cell cell = any_cell();
  RC_PRE(cell.model == CellModel::mole_fraction);
  cell.response.coefficients.clear();
  const Calibration calibration = any_calibration(cell);
  GasConditions gas = any_gas();
  gas.humidity.value = RelativeHumidity::from_si(0.0);
  const Signal signal = millivolts(*between(1.0, 14.0));
  const double before = read(cell, calibration, signal, gas).dry.si();
  gas.temperature.value = celsius(*between(-20.0, 45.0));
  gas.pressure.value = pascals(*between(60e3, 120e3));
  close(read(cell, calibration, signal, gas).dry.si(), before, 1e-15);
}

RC_GTEST_PROP(OxygenProperty, APreparedCellGivesTheSameReadingAndABatchTheSameFraction, ()) {
  const Cell cell = any_cell();
  const Calibration calibration = any_calibration(cell);
  GasConditions gas = any_gas();
  gas.humidity_temperature.reset();
  const Uncertain<Signal> signal{millivolts(*between(0.0, 14.0)), 1e-5};
  const SignalErrors errors = any_errors();
  const auto prepared = PreparedCell::from(cell, calibration);
  RC_ASSERT(prepared.has_value());
  const auto once = read_oxygen(cell, calibration, signal, gas, errors);
  RC_ASSERT(once.has_value());
  RC_ASSERT(same_reading::bits_of(prepared->read(signal, gas, errors).value()) == same_reading::bits_of(*once));
  const std::vector<double> signal_V(300, signal.value.si());
  const std::vector<double> t_K(300, gas.temperature.value.si());
  const std::vector<double> h(300, gas.humidity.value.si());
  const std::vector<double> p_Pa(300, gas.pressure.value.si());
  std::vector<double> dry(300);
  std::vector<std::uint8_t> valid(300);
  RC_ASSERT(read_batch(*prepared, {signal_V, t_K, h, p_Pa}, dry, valid) == 300U);
  close(dry.front(), once->dry.si(), 1e-12);
  RC_ASSERT(dry.front() == dry.back());
}

/// First order: with every uncertainty k times as large, so is every contribution and every combined uncertainty.
RC_GTEST_PROP(OxygenProperty, TheBudgetIsLinearInTheUncertainties, ()) {
  differences::Inputs x;
  x.cell = any_cell();
  x.calibration = any_calibration(x.cell);
  x.gas = any_gas();
  x.signal = {millivolts(*between(1.0, 14.0)), 1e-5};
  x.errors = any_errors();
  const auto before = differences::read(x).value();
  const double k = *between(0.1, 10.0);
  differences::each_input(x, [&](Input, auto& input) { input.u_si *= k; });
  x.errors = {x.errors.resolution_V * k, x.errors.linearity * k, x.errors.drift * k};
  const auto after = differences::read(x).value();
  for (std::size_t i = 0; i < input_count; ++i)
    RC_ASSERT(std::fabs(after.budget[i] - k * before.budget[i]) <= 1e-13 * after.u_dry);
  close(after.u_dry, k * before.u_dry, 1e-13);
  close(after.u_wet, k * before.u_wet, 1e-13);
  close(after.u_po2_Pa, k * before.u_po2_Pa, 1e-13);
  close(after.u_molar, k * before.u_molar, 1e-13);
}

RC_GTEST_PROP(OxygenProperty, AReportedFractionIsTheSameOnEitherBasis, ()) {
  const GasConditions gas = any_gas();
  const double dry = *between(0.0, 1.0);
  const auto from_dry = from_fraction({DryFraction::from_si(dry), 0.0}, true, gas);
  RC_ASSERT(from_dry.has_value());
  const auto from_wet = from_fraction({DryFraction::from_si(from_dry->wet.si()), 0.0}, false, gas);
  RC_ASSERT(from_wet.has_value());
  RC_ASSERT(from_dry->wet.si() <= dry);
  close(from_wet->dry.si(), dry, 1e-15);
  close(from_wet->po2.si(), from_dry->po2.si(), 1e-15);
  close(from_wet->molar.si(), from_dry->molar.si(), 1e-15);
}

RC_GTEST_PROP(OxygenProperty, DryWetAndPartialPressureAreConsistent, ()) {
  const Cell cell = any_cell();
  const GasConditions gas = any_gas();
  const auto reading = read(cell, any_calibration(cell), millivolts(*between(1.0, 14.0)), gas);
  const double p_Pa = gas.pressure.value.si();
  close(reading.wet.si() * p_Pa, reading.po2.si(), 1e-13);
  close(reading.dry.si() * (p_Pa - reading.vapour.si()), reading.po2.si(), 1e-13);
  const auto back = from_fraction({DryFraction::from_si(reading.wet.si()), 0.0}, false, gas);
  RC_ASSERT(back.has_value());
  close(back->dry.si(), reading.dry.si(), 1e-13);
}

RC_GTEST_PROP(OxygenProperty, TheBudgetAddsInSquaresToTheUncertainty, ()) {
  const Cell cell = any_cell();
  const auto reading = read(cell, any_calibration(cell), millivolts(*between(1.0, 14.0)), any_gas());
  double squares = 0.0;
  for (const double part : reading.budget) {
    RC_ASSERT(part >= 0.0);
    squares += part * part;
  }
  close(std::sqrt(squares), reading.u_dry, 1e-14);
}

RC_GTEST_PROP(MoistAirProperty, SaturationTemperatureInvertsSaturationPressure, ()) {
  const double t_K = *between(233.15, 640.0);
  const auto p = saturation_pressure_over_water(kelvins(t_K));
  RC_ASSERT(p.has_value());
  close(saturation_temperature_over_water(*p).value().si(), t_K, 1e-8); // the two equations agree to what they print
}

RC_GTEST_PROP(UnitProperty, EveryUnitGoesThereAndBack, ()) {
  const auto dimension = static_cast<Dimension>(*rc::gen::inRange(0, static_cast<int>(Dimension::number) + 1));
  const auto units = units_of(dimension);
  const Unit unit = units[*rc::gen::inRange<std::size_t>(0, units.size())];
  const double value = *between(0.0, 1000.0);
  const std::string text = std::to_string(value) + " " + std::string{unit.symbol};
  const auto si = parse_quantity(text, dimension);
  RC_ASSERT(si.has_value());
  const double largest = std::fmax(std::stod(text), std::fabs(unit.offset) / unit.scale); // what the offset rounds away
  RC_ASSERT(std::fabs(from_si(unit, *si) - std::stod(text)) <= 4e-16 * largest);
}

} // namespace oxherd::compensation::properties_test
