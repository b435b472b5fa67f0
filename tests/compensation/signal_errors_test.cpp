#include <cmath>
#include <limits>
#include <string>

#include <gtest/gtest.h>

#include "tests/compensation/differences.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::signal_errors_test {

using differences::Inputs;

double part(const OxygenReading& reading, Input input) { return reading.budget[static_cast<std::size_t>(input)]; }

Inputs worked_example(SignalErrors errors) {
  const examples::Propagated x;
  return {.cell = x.cell, .calibration = x.calibration, .signal = x.signal, .gas = x.gas, .errors = errors};
}

TEST(SignalErrors, ChangeNothingWhenThereAreNone) {
  for (const Inputs& x : differences::arrangements()) {
    const OxygenReading without = read_oxygen(x.cell, x.calibration, x.signal, x.gas).value();
    const OxygenReading with = differences::read(x).value();
    EXPECT_EQ(with.dry, without.dry);
    EXPECT_GT(with.u_dry, without.u_dry);
    for (const Input own : {Input::resolution, Input::linearity, Input::drift}) {
      EXPECT_EQ(part(without, own), 0.0) << name_of(own);
      EXPECT_GT(part(with, own), 0.0) << name_of(own);
    }
    for (std::size_t slot = 0; slot < static_cast<std::size_t>(Input::resolution); ++slot)
      EXPECT_EQ(with.budget[slot], without.budget[slot]) << slot;
  }
}

// GUM (JCGM 100:2008), F.2.2.1: an indication of step d has u = 0.29 d. The slope by the signal, 0.017745243 per
// millivolt, was computed independently with 50-digit numerical derivatives.
TEST(SignalErrors, TakeTheResolutionAsRectangular) {
  const OxygenReading reading = differences::read(worked_example({.resolution_V = 0.1e-3})).value();
  EXPECT_NEAR(part(reading, Input::resolution) / (0.017745243 * 0.1), 0.29, 0.005) << "as printed there";
  EXPECT_NEAR(part(reading, Input::resolution) / (0.017745243 * 0.1 * 0.5 / std::sqrt(3.0)), 1.0, 1e-7);
}

TEST(SignalErrors, MakeADriftTheSameShareOfALinearReading) {
  for (const Inputs& x : differences::arrangements()) {
    if (x.cell.nernst) continue;
    const OxygenReading reading = differences::read(x).value();
    EXPECT_NEAR(part(reading, Input::drift) / reading.dry.si(), x.errors.drift, 1e-13);
  }
}

// Nernst equation at 700 °C: 1 mV is 4.76988 % of the oxygen (derivative 4F/RT, computed independently), so a drift of
// 1 % of 15 mV from E0 = 1 mV is 0.15 mV.
TEST(SignalErrors, MakeADriftOfANernstCellGrowWithTheDistanceFromItsOffset) {
  const GasConditions air = examples::gas_of(20.0, 0.5, 101325.0);
  const Cell cell{
      .model = CellModel::nernst,
      .response = {},
      .nernst = NernstCell{.furnace = {celsius(700.0), 0.0}, .reference_air = air, .reference_oxygen = {{}, 0.0}}};
  Cell known = cell;
  known.nernst->reference_oxygen.value = DryFraction::from_si(0.20946);
  const Calibration calibration{.span = {.signal = {millivolts(1.0), 0.0},
                                         .oxygen = {DryFraction::from_si(0.20946), 0.0},
                                         .gas = air,
                                         .reference_air = {}},
                                .zero = {},
                                .low = {}};
  const SignalErrors errors{.resolution_V = 0.0, .linearity = 0.02, .drift = 0.01};
  const OxygenReading reading = read_oxygen(known, calibration, {millivolts(16.0), 0.0}, air, errors).value();
  EXPECT_NEAR(part(reading, Input::drift) / reading.dry.si(), 0.0476988 * 0.15, 1e-8);
  EXPECT_NEAR(part(reading, Input::linearity) / reading.dry.si(), 0.0476988 * 0.3, 1e-8) << "one point: by distance";
}

TEST(SignalErrors, LetTheDepartureFromTheLineVanishAtBothPoints) {
  Inputs x = worked_example({.linearity = 0.01});
  const double zero_mV = 0.4;
  const double range_mV = 12.2;
  const double per_mV = 0.017745243; // slope by the signal, computed independently
  const auto at = [&](double along) {
    x.signal.value = millivolts(zero_mV + along * range_mV);
    return part(differences::read(x).value(), Input::linearity) / (0.01 * range_mV * per_mV);
  };
  EXPECT_NEAR(at(0.0), 0.0, 1e-12);
  EXPECT_NEAR(at(1.0), 0.0, 1e-12);
  EXPECT_NEAR(at(0.5), 1.0, 1e-7);
  EXPECT_NEAR(at(0.25), 0.75, 1e-7);
  EXPECT_NEAR(at(0.75), 0.75, 1e-7);
  EXPECT_NEAR(at((1.0 + std::sqrt(2.0)) / 2.0), 1.0, 1e-7) << "a fifth of the range beyond";
  EXPECT_NEAR(at(2.0), 8.0, 1e-6);
  EXPECT_NEAR(at(-0.5), 3.0, 1e-6);
}

TEST(SignalErrors, AreRefusedUnlessFiniteAndNotNegative) {
  for (const double bad : {-1e-9, std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity()}) {
    for (const SignalErrors errors :
         {SignalErrors{.resolution_V = bad}, SignalErrors{.linearity = bad}, SignalErrors{.drift = bad}})
      EXPECT_FALSE(differences::read(worked_example(errors))) << bad;
  }
  const auto message = [](SignalErrors errors) -> std::string {
    const auto reading = differences::read(worked_example(errors));
    return reading ? "accepted" : reading.error().what;
  };
  EXPECT_EQ(message({.resolution_V = -1e-3}),
            "sample: the resolution is -1 mV; a finite value of zero or more is accepted");
  EXPECT_EQ(message({.linearity = -0.01}), "sample: the linearity is -1 %; a finite value of zero or more is accepted");
  EXPECT_EQ(message({.drift = -0.02}), "sample: the drift is -2 %; a finite value of zero or more is accepted");
  EXPECT_EQ(message({.drift = 1e100}), "accepted");
}

// GUM equation (16) with r(tc,t) = r(hc,h) = 0.9: u recomputed independently.
TEST(ProbeCorrelation, GivesThePublishedUncertainties) {
  struct Row {
    double u_pressure, u_correlated;
  };
  for (const auto& row : {Row{800.0, 0.001839040}, Row{50.0, 0.000535877}}) {
    Inputs x = worked_example({});
    x.gas.pressure.u_si = row.u_pressure;
    x.calibration.probes = {.temperature = 0.9, .humidity = 0.9, .pressure = 0.0};
    EXPECT_NEAR(differences::read(x).value().u_dry, row.u_correlated, 0.5e-9);
  }
}

/// u of a result by GUM equation (16), from the slopes that central differences give.
template <class Result> double correlated_numeric(const Inputs& x, Result result) {
  double variance = 0.0;
  double now[4] = {};
  double then[4] = {};
  constexpr Input now_slots[] = {Input::temperature, Input::humidity, Input::humidity_temperature, Input::pressure};
  constexpr Input then_slots[] = {Input::cal_temperature, Input::cal_humidity, Input::cal_humidity_temperature,
                                  Input::cal_pressure};
  const auto& probes = x.calibration.probes;
  const double r[] = {probes.temperature, probes.humidity, probes.temperature, probes.pressure};
  for (const auto& slope : differences::numeric_slopes(x, result)) {
    variance += slope.times_u * slope.times_u;
    for (std::size_t i = 0; i < 4; ++i) {
      if (slope.slot == now_slots[i]) now[i] = slope.times_u;
      if (slope.slot == then_slots[i]) then[i] = slope.times_u;
    }
  }
  for (std::size_t i = 0; i < 4; ++i) variance += 2.0 * r[i] * now[i] * then[i];
  return std::sqrt(variance);
}

TEST(ProbeCorrelation, AgreesWithNumericDifferentiationForEveryModelAndOutput) {
  for (Inputs x : differences::arrangements()) {
    x.calibration.probes = {.temperature = 0.8, .humidity = 0.5, .pressure = 1.0};
    const OxygenReading reading = differences::read(x).value();
    const auto numeric = [&](auto output) {
      return correlated_numeric(x, [&](const Inputs& in) { return output(differences::read(in).value()); });
    };
    EXPECT_NEAR(reading.u_dry / numeric([](const auto& r) { return r.dry.si(); }), 1.0, 1e-6);
    EXPECT_NEAR(reading.u_wet / numeric([](const auto& r) { return r.wet.si(); }), 1.0, 1e-6);
    EXPECT_NEAR(reading.u_po2_Pa / numeric([](const auto& r) { return r.po2.si(); }), 1.0, 1e-6);
    EXPECT_NEAR(reading.u_molar / numeric([](const auto& r) { return r.molar.si(); }), 1.0, 1e-6);
  }
}

TEST(ProbeCorrelation, CancelsAnOffsetThatStaysWhereTheGasStays) {
  Inputs x = worked_example({});
  x.gas = x.calibration.span.gas;
  x.signal.value = x.calibration.span.signal.value;
  x.calibration.probes = {.temperature = 1.0, .humidity = 1.0, .pressure = 1.0};
  const OxygenReading reading = differences::read(x).value();
  for (const Input probe : {Input::temperature, Input::humidity, Input::pressure, Input::cal_temperature,
                            Input::cal_humidity, Input::cal_pressure})
    EXPECT_NEAR(part(reading, probe), 0.0, 1e-15) << name_of(probe);
  EXPECT_GT(reading.u_po2_Pa, reading.u_dry * 90e3) << "the pressure at hand still moves the partial pressure";
}

TEST(ProbeCorrelation, IsRefusedOutsideNoneToAll) {
  for (const double bad : {-0.1, 1.1, std::numeric_limits<double>::quiet_NaN()}) {
    for (const ProbeCorrelation probes :
         {ProbeCorrelation{.temperature = bad}, ProbeCorrelation{.humidity = bad}, ProbeCorrelation{.pressure = bad}}) {
      Inputs x = worked_example({});
      x.calibration.probes = probes;
      EXPECT_FALSE(differences::read(x)) << bad;
    }
  }
  Inputs x = worked_example({});
  x.calibration.probes.humidity = 1.5;
  EXPECT_EQ(differences::read(x).error().what,
            "calibration: the correlation of its probes with those of the reading is 1.5; 0 to 1 is accepted");
}

} // namespace oxherd::compensation::signal_errors_test
