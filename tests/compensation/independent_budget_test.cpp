// The whole budget against Python's uncertainties (package `python3-uncertainties`), which differentiates the model
// equations by itself; they are written anew in independent_budget.py. GUM (JCGM 100:2008) equations (10) and (16).
#include <cmath>
#include <cstdlib>
#include <fstream>
#include <iomanip>
#include <random>
#include <string>

#include <gtest/gtest.h>

#include "tests/compensation/differences.hpp"
#include "tests/compensation/program.hpp"

namespace oxherd::compensation::independent_budget_test {

using differences::Inputs;

template <class Q> void write(std::ostream& out, const Uncertain<Q>& input) {
  out << input.value.si() << ' ' << input.u_si << ' ';
}

void write(std::ostream& out, const GasConditions& gas) {
  out << gas.humidity_temperature.has_value() << ' ';
  write(out, gas.temperature);
  write(out, gas.humidity);
  write(out, gas.humidity_temperature.value_or(gas.temperature));
  write(out, gas.pressure);
}

void write(std::ostream& out, const std::optional<GasConditions>& gas) {
  out << gas.has_value() << ' ';
  if (gas) write(out, *gas);
}

/// One line, in the order in which independent_budget.py takes it.
void write(std::ostream& out, const Inputs& x) {
  const CalibrationPoint low = x.calibration.low.value_or(x.calibration.span);
  const NernstCell nernst =
      x.cell.nernst.value_or(NernstCell{.furnace = {}, .reference_air = x.gas, .reference_oxygen = {}});
  const auto& a = x.cell.response.coefficients;
  out << static_cast<int>(x.cell.model) << ' ' << x.calibration.low.has_value() << ' ';
  write(out, x.signal);
  write(out, x.gas);
  write(out, x.calibration.zero);
  write(out, x.calibration.span.signal);
  write(out, x.calibration.span.oxygen);
  write(out, x.calibration.span.gas);
  write(out, low.signal);
  write(out, low.oxygen);
  write(out, low.gas);
  out << x.cell.response.reference.si() << ' ' << (a.empty() ? 0.0 : a[0]) << ' ' << (a.size() < 2 ? 0.0 : a[1]) << ' ';
  write(out, nernst.furnace);
  write(out, nernst.reference_oxygen);
  write(out, nernst.reference_air);
  write(out, x.calibration.span.reference_air);
  write(out, low.reference_air);
  const auto& r = x.calibration.probes;
  out << r.temperature << ' ' << r.humidity << ' ' << r.pressure << ' ' << x.errors.resolution_V << ' '
      << x.errors.linearity << ' ' << x.errors.drift << '\n';
}

/// Every arrangement of every model, many times with other values, other uncertainties and other correlations.
std::vector<Inputs> random_cases(std::uint64_t seed) {
  std::mt19937_64 random{seed};
  const auto between = [&](double low, double high) {
    return std::uniform_real_distribution<double>{low, high}(random);
  };
  std::vector<Inputs> all;
  for (int again = 0; again < 12; ++again)
    for (Inputs x : differences::arrangements()) {
      differences::each_input(x, [&]<class Q>(Input, Uncertain<Q>& input) {
        input.value = Q::from_si(input.value.si() * between(0.98, 1.02));
        input.u_si *= between(0.0, 3.0);
      });
      x.signal.value = Signal::from_si(x.signal.value.si() * between(0.6, 1.4));
      if (!x.cell.nernst) x.cell.response.coefficients = {between(-0.004, 0.004), between(-1e-5, 1e-5)};
      x.errors = {.resolution_V = between(0.0, 1e-4), .linearity = between(0.0, 0.02), .drift = between(0.0, 0.05)};
      if (again % 2 == 1)
        x.calibration.probes = {
            .temperature = between(0.0, 1.0), .humidity = between(0.0, 1.0), .pressure = between(0.0, 1.0)};
      all.push_back(x);
    }
  return all;
}

TEST(IndependentBudget, AgreesInEveryEntryForRandomCasesOfEveryModel) {
  const char* given = std::getenv("OXHERD_SEED");
  const std::uint64_t seed = given != nullptr ? std::strtoull(given, nullptr, 10) : std::random_device{}();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  const auto cases = random_cases(seed);
  const std::string file = testing::TempDir() + "oxherd-budget-" + std::to_string(seed) + ".txt";
  {
    std::ofstream out{file};
    out << std::setprecision(17);
    for (const Inputs& x : cases) write(out, x);
    ASSERT_TRUE(out.flush());
  }
  const auto out =
      program::run("/usr/bin/python3 -B " OXHERD_SOURCE_DIR "/tests/compensation/independent_budget.py < " + file);
  std::remove(file.c_str());
  ASSERT_EQ(out.status, 0) << out.text;
  const auto rows = program::rows_of(out.text);
  ASSERT_EQ(rows.size(), cases.size());
  for (std::size_t i = 0; i < cases.size(); ++i) {
    SCOPED_TRACE(i);
    const auto& row = rows[i];
    ASSERT_EQ(row.size(), 8 + input_count);
    const auto reading = differences::read(cases[i]);
    ASSERT_TRUE(reading) << reading.error().what;
    // Both are exact but for rounding, which the differences of large numbers in a Nernst cell's logarithm enlarge.
    const double ours[] = {reading->dry.si(), reading->u_dry,    reading->wet.si(),   reading->u_wet,
                           reading->po2.si(), reading->u_po2_Pa, reading->molar.si(), reading->u_molar};
    for (std::size_t k = 0; k < std::size(ours); ++k) EXPECT_NEAR(ours[k] / row[k], 1.0, 1e-10) << k;
    for (std::size_t slot = 0; slot < input_count; ++slot)
      EXPECT_NEAR(reading->budget[slot], row[8 + slot], 1e-10 * reading->u_dry) << name_of(static_cast<Input>(slot));
  }
}

} // namespace oxherd::compensation::independent_budget_test
