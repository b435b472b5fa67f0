// The complete budget, with the errors of the signal, against the propagation of distributions (JCGM 101:2008).
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <random>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "tests/compensation/differences.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::monte_carlo_test {

using differences::Inputs;

/// A printed seed, which OXHERD_SEED replaces.
std::uint64_t chosen_seed() {
  const char* given = std::getenv("OXHERD_SEED");
  return given != nullptr ? std::strtoull(given, nullptr, 10) : 20240229U;
}

struct Draw {
  std::mt19937_64 random;
  std::normal_distribution<double> normal;
  std::uniform_real_distribution<double> uniform{-std::sqrt(3.0), std::sqrt(3.0)}; // standard deviation 1
};

/// The inputs as they may truly be: normal about their estimates, and the resolution rectangular.
Inputs drawn(const Inputs& estimate, Draw& draw) {
  Inputs x = estimate;
  differences::each_input(x, [&]<class Q>(Input, Uncertain<Q>& input) {
    input.value = Q::from_si(input.value.si() + input.u_si * draw.normal(draw.random));
  });
  x.signal.value = differences::without_errors(x, {.resolution = draw.uniform(draw.random),
                                                   .linearity = draw.normal(draw.random),
                                                   .drift = draw.normal(draw.random)});
  return x;
}

/// Estimate, standard uncertainty and the ends of the 95 % interval.
using Summary = std::array<double, 4>;

Summary batch_of(std::size_t trials, const Inputs& estimate, Draw& draw) {
  std::vector<double> results;
  results.reserve(trials);
  double mean = 0.0;
  for (std::size_t i = 0; i < trials; ++i) {
    results.push_back(differences::read(drawn(estimate, draw)).value().dry.si());
    mean += results.back() / static_cast<double>(trials);
  }
  double squares = 0.0;
  for (const double value : results) squares += (value - mean) * (value - mean);
  std::sort(results.begin(), results.end());
  return {mean, std::sqrt(squares / static_cast<double>(trials - 1)), results[trials / 40],
          results[trials - 1 - trials / 40]};
}

/// JCGM 101:2008, 7.9.4: batches of 10^4 trials until twice the standard deviation of the average is within the
/// tolerance for each of the four.
Summary adaptive(const Inputs& estimate, double tolerance, std::uint64_t seed) {
  Draw draw{.random = std::mt19937_64{seed}, .normal = {}};
  std::vector<Summary> batches;
  constexpr std::size_t batches_max = 100;
  while (batches.size() < batches_max) {
    batches.push_back(batch_of(10000, estimate, draw));
    const double h = static_cast<double>(batches.size());
    if (h < 2.0) continue;
    Summary average{};
    Summary squares{};
    for (const auto& batch : batches)
      for (std::size_t i = 0; i < 4; ++i) average[i] += batch[i] / h;
    for (const auto& batch : batches)
      for (std::size_t i = 0; i < 4; ++i) squares[i] += (batch[i] - average[i]) * (batch[i] - average[i]);
    const double worst = *std::max_element(squares.begin(), squares.end());
    if (2.0 * std::sqrt(worst / (h * (h - 1.0))) <= tolerance) return average;
  }
  ADD_FAILURE() << "not stable to " << tolerance << " after " << batches_max << " batches";
  return {};
}

/// Half a unit of the last of so many significant digits of u: JCGM 101:2008, 7.9.2.
double numerical_tolerance(double u, int digits) {
  const int last = static_cast<int>(std::floor(std::log10(u))) - (digits - 1);
  return 0.5 * std::pow(10.0, last);
}

/// JCGM 101:2008, clause 8: the ends of the intervals agree to the digits that are stated. The simulation itself is
/// stable to a fifth of that.
void expect_valid(const Inputs& x, int digits, std::uint64_t seed) {
  const OxygenReading reading = differences::read(x).value();
  const double delta = numerical_tolerance(reading.u_dry, digits);
  const auto [mean, u, low, high] = adaptive(x, delta / 5.0, seed);
  constexpr double k95 = 1.959963985; // normal
  EXPECT_NEAR(reading.dry.si() - k95 * reading.u_dry, low, delta);
  EXPECT_NEAR(reading.dry.si() + k95 * reading.u_dry, high, delta);
  EXPECT_NEAR(reading.u_dry, u, delta);
  EXPECT_NEAR(reading.dry.si(), mean, delta);
}

TEST(NumericalTolerance, IsThatOfThePublishedExamples) {
  // JCGM 101:2008, 7.9.2, examples 1 to 3 (from memory): 0.000 35 g to two digits, 2 K to one.
  EXPECT_NEAR(numerical_tolerance(0.00035, 2), 0.000005, 1e-18);
  EXPECT_NEAR(numerical_tolerance(2.0, 1), 0.5, 1e-15);
}

/// Of each model one arrangement, between them: one point and two, one thermometer and two, and a reference side that
/// changed since the calibration.
std::vector<Inputs> one_of_each_model() {
  const auto all = differences::arrangements();
  return {all.at(0), all.at(6), all.at(9), all.at(14)};
}

TEST(MonteCarlo, ValidatesTheCompleteBudgetOfEveryModel) {
  const std::uint64_t seed = chosen_seed();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  for (const Inputs& x : one_of_each_model()) {
    SCOPED_TRACE(static_cast<int>(x.cell.model));
    expect_valid(x, 1, seed);
  }
}

// The worked example with a barometer and with all errors of the signal, to two digits of its uncertainty.
TEST(MonteCarlo, ValidatesTheWorkedExampleToTwoDigits) {
  const std::uint64_t seed = chosen_seed();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  const examples::Propagated example;
  Inputs x{.cell = example.cell,
           .calibration = example.calibration,
           .signal = example.signal,
           .gas = example.gas,
           .errors = {.resolution_V = 5e-5, .linearity = 0.01, .drift = 0.004}};
  x.gas.pressure.u_si = 150.0;
  expect_valid(x, 2, seed);
}

/// The share of worlds whose true fraction lies within two standard uncertainties of the reading. In each world the
/// true gases, the true cell and the true errors are fixed by `truth`; what the instruments say of them is drawn.
template <class Drift>
double coverage(const Inputs& truth, double oxygen, std::size_t worlds, Draw& draw, Drift drift) {
  const double ideal_V =
      expected_signal(truth.cell, truth.calibration, DryFraction::from_si(oxygen), truth.gas).value().si();
  const double zero_V = characterise(truth.cell, truth.calibration).value().zero.value.si();
  const double span_V = truth.calibration.span.signal.value.si();
  double departure_V = ideal_V - span_V;
  if (truth.cell.model != CellModel::nernst || truth.calibration.low) {
    const double other_V =
        truth.calibration.low ? truth.calibration.low->signal.value.si() : truth.calibration.zero.value.si();
    departure_V = 4.0 * (ideal_V - other_V) * (span_V - ideal_V) / (span_V - other_V);
  }
  const SignalErrors& errors = truth.errors;
  std::size_t covered = 0;
  for (std::size_t i = 0; i < worlds; ++i) {
    Inputs seen = truth;
    differences::each_input(seen, [&]<class Q>(Input, Uncertain<Q>& input) {
      input.value = Q::from_si(input.value.si() + input.u_si * draw.normal(draw.random));
    });
    const double drifted_V = (ideal_V - zero_V) * errors.drift * drift(draw.random);
    const double bent_V = departure_V * errors.linearity * draw.normal(draw.random);
    const double noise_V = truth.signal.u_si * draw.normal(draw.random);
    const double steps = std::round((ideal_V + drifted_V + bent_V + noise_V) / errors.resolution_V); // as indicated
    seen.signal.value = Signal::from_si(steps * errors.resolution_V);
    const OxygenReading reading = differences::read(seen).value();
    if (std::fabs(reading.dry.si() - oxygen) <= 2.0 * reading.u_dry) ++covered;
  }
  return static_cast<double>(covered) / static_cast<double>(worlds);
}

// A normal distribution has 95.45 % within k = 2.
TEST(Coverage, OfTwoStandardUncertaintiesIsThatOfANormalDistribution) {
  const std::uint64_t seed = chosen_seed();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  for (const Inputs& truth : one_of_each_model()) {
    SCOPED_TRACE(static_cast<int>(truth.cell.model));
    Draw draw{.random = std::mt19937_64{seed}, .normal = {}};
    double sum = 0.0;
    for (const double oxygen : {0.03, 0.12, 0.16, 0.195, 0.235})
      sum += coverage(truth, oxygen, 20000, draw, draw.normal);
    EXPECT_GE(sum / 5.0, 0.94);
    EXPECT_LE(sum / 5.0, 0.97);
  }
}

// JCGM 101:2008, 9.2.4: where one rectangular input dominates, the interval is wider than it need be, never too narrow.
TEST(Coverage, IsNotLessWhereARectangularDriftDominates) {
  const std::uint64_t seed = chosen_seed();
  SCOPED_TRACE("OXHERD_SEED=" + std::to_string(seed));
  Inputs old = differences::arrangements().front();
  old.errors.drift = 0.05;
  Draw draw{.random = std::mt19937_64{seed}, .normal = {}};
  EXPECT_GE(coverage(old, 0.195, 20000, draw, draw.uniform), 0.98);
}

} // namespace oxherd::compensation::monte_carlo_test
