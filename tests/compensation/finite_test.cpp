// No input whatsoever gives a number that is not finite without an error: one input broken, and all of them at once.
#include <cmath>
#include <cstdint>
#include <vector>

#include <gtest/gtest.h>

#include "compensation/barometry.hpp"
#include "compensation/batch.hpp"
#include "compensation/calibration.hpp"
#include "compensation/carbon_dioxide.hpp"
#include "compensation/moist_air.hpp"
#include "compensation/units.hpp"
#include "tests/compensation/differences.hpp"
#include "tests/compensation/generators.hpp"
#include "tests/compensation/same_reading.hpp"

namespace oxherd::compensation::finite_test {

using differences::Inputs;
using generators::broken;

Inputs any_inputs() {
  Inputs x;
  x.cell = generators::any_cell();
  x.calibration = generators::any_calibration(x.cell);
  x.signal = {millivolts(*generators::between(0.0, 14.0)), 1e-5};
  x.gas = generators::any_gas();
  x.errors = generators::any_errors();
  return x;
}

/// Calls visit(double) for every single number that a reading is made of.
template <class Visit> void each_number(Inputs& x, Visit visit) {
  differences::each_input(x, [&]<class Q>(Input, Uncertain<Q>& input) {
    double value = input.value.si();
    visit(value);
    input.value = Q::from_si(value);
    visit(input.u_si);
  });
  for (double& a : x.cell.response.coefficients) visit(a);
  double reference_K = x.cell.response.reference.si();
  visit(reference_K);
  x.cell.response.reference = kelvins(reference_K);
  ProbeCorrelation& probes = x.calibration.probes;
  for (double* number : {&x.errors.resolution_V, &x.errors.linearity, &x.errors.drift, &probes.temperature,
                         &probes.humidity, &probes.pressure})
    visit(*number);
}

/// Every function that takes such inputs: numbers that are finite, or an error with words.
void expect_finite_or_refused(const Inputs& x) {
  const auto check = [](const auto& result, auto numbers) {
    if (!result) {
      RC_ASSERT(!result.error().what.empty());
      return;
    }
    for (const double number : numbers(*result)) RC_ASSERT(std::isfinite(number));
  };
  const auto reading = differences::read(x);
  check(reading, same_reading::numbers_of);
  const auto prepared = PreparedCell::from(x.cell, x.calibration);
  if (prepared) check(prepared->read(x.signal, x.gas, x.errors), same_reading::numbers_of);
  RC_ASSERT(!reading || prepared);
  check(expected_signal(x.cell, x.calibration, DryFraction::from_si(x.signal.value.si()), x.gas),
        [](Signal s) { return std::vector{s.si()}; });
  for (const bool is_dry : {true, false})
    check(from_fraction({DryFraction::from_si(x.signal.value.si()), x.signal.u_si}, is_dry, x.gas),
          same_reading::numbers_of);
  check(correct_ndir({WetFraction::from_si(x.signal.value.si()), x.signal.u_si}, {}, x.gas), [](const auto& c) {
    return std::vector{c.value.si(), c.u_si};
  });
  check(characterise(x.cell, x.calibration), [](const CellCharacteristic& c) {
    return std::vector{c.sensitivity, c.u_sensitivity, c.zero.value.si(), c.zero.u_si};
  });
  if (!prepared) return;
  const std::vector<double> signal_V{x.signal.value.si()};
  const std::vector<double> t_K{x.gas.temperature.value.si()};
  const std::vector<double> h{x.gas.humidity.value.si()};
  const std::vector<double> p_Pa{x.gas.pressure.value.si()};
  std::vector<double> dry{NAN};
  std::vector<std::uint8_t> valid{7};
  const std::size_t good = read_batch(*prepared, {signal_V, t_K, h, p_Pa}, dry, valid);
  RC_ASSERT(std::isfinite(dry[0]));
  RC_ASSERT(valid[0] == good);
}

RC_GTEST_PROP(Finite, WithOneNumberBroken, ()) {
  Inputs x = any_inputs();
  int count = 0;
  each_number(x, [&](double&) { ++count; });
  const int chosen = *rc::gen::inRange(0, count);
  int i = 0;
  each_number(x, [&](double& number) {
    if (i++ == chosen) number = broken();
  });
  expect_finite_or_refused(x);
}

RC_GTEST_PROP(Finite, WithManyNumbersBroken, ()) {
  Inputs x = any_inputs();
  const int one_in = *rc::gen::inRange(1, 30);
  each_number(x, [&](double& number) {
    if (*rc::gen::inRange(0, one_in) == 0) number = broken();
  });
  expect_finite_or_refused(x);
}

RC_GTEST_PROP(Finite, WithACellWhosePartsDoNotFit, ()) {
  Inputs x = any_inputs();
  const Cell other = generators::any_cell();
  if (*rc::gen::arbitrary<bool>()) x.cell.model = other.model;
  if (*rc::gen::arbitrary<bool>()) x.cell.nernst = other.nernst;
  if (*rc::gen::arbitrary<bool>()) x.cell.response = other.response;
  expect_finite_or_refused(x);
}

// An adjustment of the calibration's signals to anything, also to lines that are as good as vertical or level.
RC_GTEST_PROP(Finite, WithPointsThatAreAsGoodAsOne, ()) {
  Inputs x = any_inputs();
  const double signal_V = *rc::gen::oneOf(generators::between(-1e3, 1e3), rc::gen::element(0.0, 1e-300, 12.6e-3));
  const double apart_V = *rc::gen::element(0.0, 5e-324, 1e-310, 1e-300, 1e-200, 1e-100, 1e-30, 1e-18);
  x.calibration.span.signal.value = Signal::from_si(signal_V + apart_V);
  x.calibration.zero.value = Signal::from_si(signal_V);
  if (x.calibration.low) x.calibration.low->signal.value = Signal::from_si(signal_V);
  expect_finite_or_refused(x);
}

RC_GTEST_PROP(Finite, OfMoistAirAndBarometry, ()) {
  const double a = broken();
  const double b = broken();
  const double c = broken();
  const auto check = [](const auto& result) {
    if (!result) return;
    if constexpr (requires { result->si(); }) {
      RC_ASSERT(std::isfinite(result->si()));
    } else {
      RC_ASSERT(std::isfinite(*result));
    }
  };
  check(saturation_pressure_over_water(kelvins(a)));
  check(saturation_temperature_over_water(pascals(a)));
  check(sublimation_pressure_over_ice(kelvins(a)));
  check(vapour_pressure(RelativeHumidity::from_si(a), kelvins(b), pascals(c)));
  check(dew_point(pascals(a)));
  check(humidity_over_ice(RelativeHumidity::from_si(a), kelvins(b)));
  const auto h = GeopotentialAltitude::from_si(a);
  check(standard_pressure(h));
  check(standard_temperature(h));
  check(pressure_altitude(pascals(a)));
  check(station_pressure(SeaLevelPressure::from_si(b), h));
  check(sea_level_pressure(pascals(b), h));
}

RC_GTEST_PROP(Finite, OfQuantitiesThatAreTyped, (const std::string& text)) {
  const auto dimension = static_cast<Dimension>(*rc::gen::inRange(0, static_cast<int>(Dimension::number) + 1));
  const auto units = units_of(dimension);
  const Unit unit = units[*rc::gen::inRange<std::size_t>(0, units.size())];
  for (const std::string& typed :
       {text, text + std::string{unit.symbol}, std::to_string(broken()) + std::string{unit.symbol}}) {
    const auto si = parse_quantity(typed, dimension);
    if (si) {
      RC_ASSERT(std::isfinite(*si));
    } else {
      RC_ASSERT(!si.error().message.empty());
    }
  }
}

} // namespace oxherd::compensation::finite_test
