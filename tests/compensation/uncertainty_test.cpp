#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <random>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "tests/compensation/differences.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::uncertainty_test {

OxygenReading read(const examples::Propagated& x) {
  return read_oxygen(x.cell, x.calibration, x.signal, x.gas).value();
}

double part(const OxygenReading& reading, Input input) { return reading.budget[static_cast<std::size_t>(input)]; }

// GUM equation (10): recomputed independently by an uncertainty library and with 50-digit numerical derivatives.
TEST(Uncertainty, AgreesWithAnIndependentPropagation) {
  const OxygenReading reading = read({});
  EXPECT_NEAR(reading.dry.si() / 0.2040702951202, 1.0, 1e-9);
  EXPECT_NEAR(reading.u_dry / 0.0018788311808, 1.0, 1e-7);
  struct Row {
    Input input;
    double contribution; // printed with six digits
  };
  constexpr Row table[] = {{Input::zero, 5.09085e-5},          {Input::cal_signal, 0.000334541},
                           {Input::signal, 0.000354905},       {Input::cal_temperature, 0.000251014},
                           {Input::cal_humidity, 0.000154986}, {Input::cal_pressure, 0.000103401},
                           {Input::temperature, 0.0002692},    {Input::humidity, 9.43041e-5},
                           {Input::pressure, 0.00176268},      {Input::cal_oxygen, 5.84561e-5}};
  for (const auto& row : table)
    EXPECT_NEAR(part(reading, row.input) / row.contribution, 1.0, 5e-6) << name_of(row.input);
  for (const Input absent : {Input::cal_humidity_temperature, Input::low_signal, Input::low_oxygen,
                             Input::humidity_temperature, Input::furnace, Input::reference_air})
    EXPECT_EQ(part(reading, absent), 0.0) << name_of(absent);
}

// The same with a barometer, u(p) = 50 Pa: recomputed to six digits.
TEST(Uncertainty, ShrinksWithABarometer) {
  examples::Propagated inputs;
  inputs.gas.pressure.u_si = 50.0;
  EXPECT_NEAR(read(inputs).u_dry, 0.000659624, 0.5e-9);
}

// GUM equation (16) with r(tc,t) = r(hc,h) = 0.9, recomputed. The reading itself takes calibration and sample as
// independent; the published value follows from its budget, as the two of each pair act in opposite directions.
TEST(Uncertainty, HasABudgetFromWhichCorrelatedProbesFollow) {
  struct Row {
    double u_pressure, u_correlated;
  };
  for (const auto& row : {Row{800.0, 0.001839040}, Row{50.0, 0.000535877}}) {
    examples::Propagated inputs;
    inputs.gas.pressure.u_si = row.u_pressure;
    const OxygenReading reading = read(inputs);
    const double pairs = part(reading, Input::temperature) * part(reading, Input::cal_temperature) +
                         part(reading, Input::humidity) * part(reading, Input::cal_humidity);
    EXPECT_NEAR(std::sqrt(reading.u_dry * reading.u_dry - 2.0 * 0.9 * pairs), row.u_correlated, 0.5e-9);
  }
}

// JCGM 101: propagation of distributions. The seed is printed and may be given as OXHERD_SEED; the allowances are those
// published with the example for any generator at 10^6 trials.
TEST(Uncertainty, AgreesWithAMonteCarloPropagation) {
  const char* given = std::getenv("OXHERD_SEED");
  const std::uint64_t seed = given != nullptr ? std::strtoull(given, nullptr, 10) : 20240229U;
  RecordProperty("seed", std::to_string(seed));
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  std::mt19937_64 random{seed};
  std::normal_distribution<double> normal;
  const examples::Propagated centre;
  const differences::Inputs inputs{centre.cell, centre.calibration, centre.signal, centre.gas};
  constexpr std::size_t trials = 1'000'000;
  std::vector<double> results;
  results.reserve(trials);
  double mean = 0.0;
  differences::Inputs drawn = inputs;
  for (std::size_t i = 0; i < trials; ++i) {
    drawn = inputs;
    differences::each_input(drawn, [&]<class Q>(Input, Uncertain<Q>& input) {
      input.value = Q::from_si(input.value.si() + input.u_si * normal(random));
    });
    const auto reading = read_oxygen(drawn.cell, drawn.calibration, drawn.signal, drawn.gas);
    ASSERT_TRUE(reading) << reading.error().what;
    results.push_back(reading->dry.si());
    mean += results.back() / static_cast<double>(trials);
  }
  double squares = 0.0;
  for (const double x : results) squares += (x - mean) * (x - mean);
  const double u = std::sqrt(squares / static_cast<double>(trials - 1));
  std::sort(results.begin(), results.end());
  EXPECT_NEAR(mean, 0.204083, 1e-5);
  EXPECT_NEAR(u / 0.001877, 1.0, 3e-3);
  EXPECT_NEAR(results[trials / 40], 0.20045, 3e-5);
  EXPECT_NEAR(results[trials - trials / 40], 0.20781, 3e-5);
  EXPECT_NEAR(read(centre).u_dry / u, 1.0, 5e-3) << "first order against the propagated distribution";
}

// The analytic sensitivities against central differences, input by input, for every model and arrangement.
TEST(Uncertainty, AgreesWithNumericDifferentiationForEveryModel) {
  const auto all = differences::arrangements();
  ASSERT_EQ(all.size(), 17U);
  for (std::size_t i = 0; i < all.size(); ++i) {
    SCOPED_TRACE(i);
    const auto& x = all[i];
    const auto read_again = [](const differences::Inputs& in) { return differences::read(in).value(); };
    const OxygenReading reading = read_again(x);
    const auto budget = differences::numeric_budget(x, [&](const auto& in) { return read_again(in).dry.si(); });
    for (std::size_t slot = 0; slot < input_count; ++slot)
      EXPECT_NEAR(reading.budget[slot], budget[slot], 1e-6 * reading.u_dry) << name_of(static_cast<Input>(slot));
    const auto numeric = [&](auto output) {
      return differences::combined_numeric(
          differences::numeric_budget(x, [&](const auto& in) { return output(read_again(in)); }));
    };
    EXPECT_NEAR(reading.u_dry / numeric([](const auto& r) { return r.dry.si(); }), 1.0, 1e-6);
    EXPECT_NEAR(reading.u_wet / numeric([](const auto& r) { return r.wet.si(); }), 1.0, 1e-6);
    EXPECT_NEAR(reading.u_po2_Pa / numeric([](const auto& r) { return r.po2.si(); }), 1.0, 1e-6);
    EXPECT_NEAR(reading.u_molar / numeric([](const auto& r) { return r.molar.si(); }), 1.0, 1e-6);
    EXPECT_NEAR(reading.u_mass / numeric([](const auto& r) { return r.mass.si(); }), 1.0, 1e-6);
    EXPECT_NEAR(reading.u_sea_level_equivalent / numeric([](const auto& r) { return r.sea_level_equivalent; }), 1.0,
                1e-6);
  }
}

TEST(Uncertainty, OfAReportedFractionAgreesWithNumericDifferentiation) {
  for (const bool is_dry : {true, false}) {
    for (const bool own_probe : {true, false}) {
      SCOPED_TRACE(is_dry);
      SCOPED_TRACE(own_probe);
      differences::Inputs x; // the report stands in the place of the signal
      x.signal = {Signal::from_si(0.19), 0.001};
      x.gas = differences::uncertain_gas(31.0, 0.82, 93870.0);
      if (own_probe) x.gas.humidity_temperature = Uncertain<Temperature>{celsius(33.0), 0.2};
      const auto convert = [&](const differences::Inputs& in) {
        return from_fraction({DryFraction::from_si(in.signal.value.si()), in.signal.u_si}, is_dry, in.gas).value();
      };
      const OxygenReading reading = convert(x);
      const auto numeric = [&](auto output) {
        return differences::numeric_budget(x, [&](const auto& in) { return output(convert(in)); });
      };
      const auto budget = numeric([](const auto& r) { return r.dry.si(); });
      for (std::size_t slot = 0; slot < input_count; ++slot)
        EXPECT_NEAR(reading.budget[slot], budget[slot], 1e-6 * reading.u_dry) << name_of(static_cast<Input>(slot));
      using differences::combined_numeric;
      EXPECT_NEAR(reading.u_wet / combined_numeric(numeric([](const auto& r) { return r.wet.si(); })), 1.0, 1e-6);
      EXPECT_NEAR(reading.u_po2_Pa / combined_numeric(numeric([](const auto& r) { return r.po2.si(); })), 1.0, 1e-6);
      EXPECT_NEAR(reading.u_molar / combined_numeric(numeric([](const auto& r) { return r.molar.si(); })), 1.0, 1e-6);
    }
  }
}

TEST(Uncertainty, OfASharedThermometerIsNotThatOfTwo) {
  examples::Propagated shared;
  examples::Propagated apart;
  apart.gas.humidity_temperature = apart.gas.temperature; // the same reading, but of a second instrument
  const OxygenReading one = read(shared);
  const OxygenReading two = read(apart);
  EXPECT_EQ(one.dry, two.dry);
  const double both = part(two, Input::temperature) + part(two, Input::humidity_temperature);
  EXPECT_NEAR(part(one, Input::temperature), both, 1e-15) << "both effects have the same sign here";
  EXPECT_GT(part(one, Input::temperature),
            std::hypot(part(two, Input::temperature), part(two, Input::humidity_temperature)));
}

} // namespace oxherd::compensation::uncertainty_test
