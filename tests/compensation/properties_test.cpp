// Properties that hold for all inputs. A failure prints its seed and a configuration to repeat it; RC_PARAMS="seed=N"
// accepts one.
#include <cmath>
#include <string>
#include <vector>

#include <gtest/gtest.h> // before rapidcheck, whose header needs its names

#include <rapidcheck/gtest.h>

#include "compensation/cells/catalogue.hpp"
#include "compensation/moist_air.hpp"
#include "compensation/oxygen_reading.hpp"
#include "compensation/units.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::properties_test {

/// Even numbers between low and high, ends included.
rc::Gen<double> between(double low, double high) {
  return rc::gen::map(rc::gen::inRange(0, 1000001), [=](int i) { return low + (high - low) * i / 1e6; });
}

GasConditions any_gas() {
  GasConditions gas{.temperature = {celsius(*between(-20.0, 45.0)), *between(0.0, 1.0)},
                    .humidity = {RelativeHumidity::from_si(*between(0.0, 1.05)), *between(0.0, 0.05)},
                    .humidity_temperature = {},
                    .pressure = {pascals(*between(60e3, 120e3)), *between(0.0, 1000.0)}};
  if (*rc::gen::arbitrary<bool>())
    gas.humidity_temperature = Uncertain<Temperature>{celsius(*between(-20.0, 45.0)), *between(0.0, 1.0)};
  return gas;
}

Cell any_cell() {
  Cell cell{.model = *rc::gen::element(CellModel::concentration, CellModel::partial_pressure, CellModel::mole_fraction,
                                       CellModel::nernst),
            .response = {},
            .nernst = {}};
  if (cell.model == CellModel::nernst) {
    cell.nernst = NernstCell{.furnace = {celsius(*between(500.0, 900.0)), *between(0.0, 5.0)},
                             .reference_air = any_gas(),
                             .reference_oxygen = {DryFraction::from_si(0.20946), 6e-5}};
  } else if (*rc::gen::arbitrary<bool>()) {
    cell.response = {celsius(20.0), {*between(-0.004, 0.004), *between(-1e-5, 1e-5)}};
  }
  return cell;
}

/// A calibration whose points follow the cell's law, so that every signal between them is one that the cell can give.
Calibration any_calibration(const Cell& cell) {
  Calibration calibration{.span = {.signal = {millivolts(*between(8.0, 15.0)), *between(0.0, 1e-4)},
                                   .oxygen = {DryFraction::from_si(*between(0.1, 0.3)), *between(0.0, 1e-3)},
                                   .gas = any_gas(),
                                   .reference_air = {}},
                          .zero = {millivolts(*between(-0.5, 0.8)), *between(0.0, 1e-4)},
                          .low = {}};
  if (cell.nernst && *rc::gen::arbitrary<bool>()) calibration.span.reference_air = any_gas();
  if (!*rc::gen::arbitrary<bool>()) return calibration;
  CalibrationPoint low{.signal = {Signal{}, *between(0.0, 1e-4)},
                       .oxygen = {DryFraction::from_si(*between(0.01, 0.05)), *between(0.0, 1e-3)},
                       .gas = any_gas(),
                       .reference_air = {}};
  low.signal.value = expected_signal(cell, calibration, low.oxygen.value, low.gas).value();
  if (cell.nernst) low.reference_air = cell.nernst->reference_air;
  calibration.low = low;
  return calibration;
}

OxygenReading read(const Cell& cell, const Calibration& calibration, Signal signal, const GasConditions& gas) {
  const auto reading = read_oxygen(cell, calibration, {signal, 1e-5}, gas);
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

/// A number that somebody's broken device might deliver.
double broken() {
  return *rc::gen::oneOf(rc::gen::arbitrary<double>(), between(-1e3, 1e3),
                         rc::gen::element(0.0, -0.0, std::nan(""), HUGE_VAL, -HUGE_VAL, 1e308, -1e308, 5e-324));
}

RC_GTEST_PROP(OxygenProperty, NoInputGivesAValueThatIsNotFiniteWithoutAnError, ()) {
  Cell cell = any_cell();
  Calibration calibration = any_calibration(cell);
  GasConditions gas = any_gas();
  Uncertain<Signal> signal{millivolts(*between(0.0, 14.0)), 1e-5};
  switch (*rc::gen::inRange(0, 9)) {
  case 0: signal.value = Signal::from_si(broken()); break;
  case 1: gas.temperature.value = kelvins(broken()); break;
  case 2: gas.humidity.value = RelativeHumidity::from_si(broken()); break;
  case 3: gas.pressure.value = pascals(broken()); break;
  case 4: calibration.span.signal.value = Signal::from_si(broken()); break;
  case 5: calibration.zero.value = Signal::from_si(broken()); break;
  case 6: calibration.span.oxygen.value = DryFraction::from_si(broken()); break;
  case 7: signal.u_si = broken(); break;
  default: gas.pressure.u_si = broken(); break;
  }
  const auto reading = read_oxygen(cell, calibration, signal, gas);
  if (!reading) {
    RC_ASSERT(!reading.error().what.empty());
    return;
  }
  for (const double value :
       {reading->dry.si(), reading->wet.si(), reading->po2.si(), reading->molar.si(), reading->mass.si(),
        reading->sea_level_equivalent, reading->uncorrected, reading->u_dry, reading->u_wet, reading->u_po2_Pa,
        reading->u_molar, reading->u_mass, reading->u_sea_level_equivalent, reading->factors.temperature,
        reading->factors.pressure, reading->factors.humidity})
    RC_ASSERT(std::isfinite(value));
  for (const double part : reading->budget) RC_ASSERT(std::isfinite(part));
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
