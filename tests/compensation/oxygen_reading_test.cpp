#include "compensation/oxygen_reading.hpp"

#include <cmath>
#include <limits>
#include <string>

#include <gtest/gtest.h>

#include "compensation/barometry.hpp"
#include "tests/compensation/examples.hpp"

namespace oxherd::compensation::oxygen_reading_test {

using examples::gas_of;

/// Passes when `value` agrees with `expected` to rel 1e-10: the examples print twelve digits.
void expect_rel(double value, double expected, const char* what) {
  EXPECT_NEAR(value, expected, 1e-10 * std::fabs(expected)) << what;
}

// Ten worked examples, computed independently with 50 digits (see examples.hpp).
TEST(ReadOxygen, ReproducesTheTenWorkedExamples) {
  for (const auto& example : examples::all) {
    SCOPED_TRACE(example.name);
    const auto reading = examples::read(example);
    ASSERT_TRUE(reading) << reading.error().what;
    expect_rel(reading->vapour_at_calibration.si(), example.e_cal_Pa, "vapour pressure at calibration");
    expect_rel(reading->saturation.si(), example.saturation_Pa, "saturation pressure");
    expect_rel(reading->vapour.si(), example.e_Pa, "vapour pressure");
    expect_rel(reading->uncorrected, example.uncorrected, "uncorrected fraction");
    expect_rel(reading->factors.temperature, example.by_temperature * example.by_response, "factor of temperature");
    expect_rel(reading->factors.pressure, example.by_pressure, "factor of pressure");
    expect_rel(reading->factors.humidity, example.by_humidity, "factor of humidity");
    expect_rel(reading->dry.si(), example.dry, "dry fraction");
    expect_rel(reading->wet.si(), example.wet, "wet fraction");
    expect_rel(reading->po2.si(), example.po2_kPa * 1e3, "partial pressure");
    expect_rel(reading->molar.si(), example.molar, "molar concentration");
    expect_rel(reading->mass.si(), example.mass_g * 1e-3, "mass concentration");
    expect_rel(reading->sea_level_equivalent, example.sea_level, "sea-level equivalent");
  }
}

// E1 and E8 again from what a person has: a map height (geometric), a weather report.
TEST(ReadOxygen, TakesItsPressureFromAnElevationOrAReport) {
  const Pressure e1 = standard_pressure(geopotential(metres(640.0))).value();
  expect_rel(e1.si(), examples::all[0].p_Pa, "E1");
  const Pressure e8 =
      station_pressure(SeaLevelPressure::from_si(102000.0), GeopotentialAltitude::from_si(640.0)).value();
  expect_rel(e8.si(), examples::all[7].p_Pa, "E8");
}

// What plausible mistakes give for the examples, computed independently: none of these may be returned.
TEST(ReadOxygen, DoesNotReturnWhatAPlausibleMistakeGives) {
  struct Row {
    std::size_t example;
    double wrong;
    const char* mistake;
  };
  constexpr Row table[] = {
      {0, 0.2040897809, "no enhancement factor"},
      {7, 0.2027388843, "no enhancement factor"},
      {2, 0.208742351, "no enhancement factor"},
      {0, 0.12243653, "temperatures in °C instead of K"},
      {0, 0.2044849735, "zero ignored"},
      {0, 0.2103682279, "taken as partial-pressure"},
      {0, 0.2013570641, "wet fraction shown as dry"},
      {0, 0.2064156153, "reference taken as a wet fraction"},
      {5, 0.1999593332, "humidity read over ice"},
  };
  for (const auto& row : table) {
    SCOPED_TRACE(row.mistake);
    const double dry = examples::read(examples::all[row.example]).value().dry.si();
    EXPECT_GT(std::fabs(dry / row.wrong - 1.0), 3e-6);
    EXPECT_NEAR(dry / examples::all[row.example].dry, 1.0, 1e-10);
  }
  // Typing the sea-level pressure for the station's gives 7.5 % too little; the mistake itself is computed rightly.
  auto typed = examples::all[0];
  typed.p_Pa = 101325.0;
  EXPECT_NEAR(examples::read(typed).value().dry.si(), 0.1888861638, 0.5e-10);
  auto other_law = examples::all[0];
  other_law.model = CellModel::partial_pressure;
  EXPECT_NEAR(examples::read(other_law).value().dry.si(), 0.2103682279, 0.5e-10);
}

// xw = xd (1 - f h ps/p), c = pO2/(R T), ps by IAPWS R7-97, f by CIPM-2007: recomputed with 50 digits.
TEST(FromFraction, DerivesTheOtherOutputs) {
  struct Row {
    double dry, p_Pa, t_C, h, wet, po2_kPa, mmHg, molar, g_per_m3;
  };
  constexpr Row table[] = {
      {0.20946, 101325, 20, 0, 0.20946, 21.2235345, 159.1895773, 8.707502905, 278.622678},
      {0.20946, 101325, 20, 0.5, 0.2070324433, 20.97756232, 157.3446345, 8.606586469, 275.3935538},
      {0.20946, 101325, 37, 1, 0.1964147786, 19.90172744, 149.2752105, 7.717645105, 246.9492081},
      {0.195, 101325, 20, 0.5, 0.1927400289, 19.52938343, 146.4824011, 8.012433694, 256.3818533},
      {0.20946, 83523.5266, 15, 0.4, 0.2077431717, 17.35144233, 130.1465017, 7.242404415, 231.7424565},
      {0.02, 101325, 2, 0.95, 0.01986711281, 2.013035206, 15.09900359, 0.879929075, 28.15597054},
      {0.235, 101325, 25, 0.6, 0.230570789, 23.3625852, 175.2337747, 9.424360697, 301.5606936}};
  for (const auto& row : table) {
    SCOPED_TRACE(row.p_Pa);
    const GasConditions gas = gas_of(row.t_C, row.h, row.p_Pa);
    const auto from_dry = from_fraction({DryFraction::from_si(row.dry), 0.0}, true, gas);
    const auto from_wet = from_fraction({DryFraction::from_si(row.wet), 0.0}, false, gas);
    ASSERT_TRUE(from_dry && from_wet);
    EXPECT_NEAR(from_dry->wet.si() / row.wet, 1.0, 1e-8);
    EXPECT_NEAR(from_wet->dry.si() / row.dry, 1.0, 1e-8);
    EXPECT_NEAR(from_dry->po2.si() / row.po2_kPa / 1e3, 1.0, 1e-8);
    EXPECT_NEAR(from_dry->po2.si() / 133.322387415 / row.mmHg, 1.0, 1e-8); // ISO 80000-4 conventional mmHg
    EXPECT_NEAR(from_dry->molar.si() / row.molar, 1.0, 1e-8);
    EXPECT_NEAR(from_dry->mass.si() * 1e3 / row.g_per_m3, 1.0, 1e-8);
    EXPECT_EQ(from_wet->uncorrected, row.wet);
    EXPECT_NEAR(from_wet->uncorrected * from_wet->factors.humidity, from_wet->dry.si(), 1e-15);
  }
}

// pO2 of dry air at 1600 m, 83 523.5266 Pa, over the standard atmosphere: definition, recomputed.
TEST(FromFraction, GivesTheSeaLevelEquivalent) {
  const auto reading = from_fraction({DryFraction::from_si(0.20946), 0.0}, true, gas_of(15.0, 0.0, 83523.5266));
  ASSERT_TRUE(reading);
  EXPECT_NEAR(reading->sea_level_equivalent / 0.1726606255, 1.0, 1e-8);
}

TEST(ReadOxygen, ReturnsNoiseAboutZeroAsItIs) {
  auto example = examples::all[0];
  example.signal_mV = example.zero_mV - 0.01;
  const auto below = examples::read(example);
  ASSERT_TRUE(below);
  EXPECT_LT(below->dry.si(), 0.0);
  EXPECT_GT(below->dry.si(), -0.001);
  example.signal_mV = example.zero_mV;
  EXPECT_EQ(examples::read(example).value().dry.si(), 0.0);
}

TEST(ReadOxygen, TakesTheVapourAtTheProbesOwnTemperature) {
  const auto& example = examples::all[0];
  GasConditions gas = gas_of(example.t_C, example.h, example.p_Pa);
  gas.humidity_temperature = Uncertain<Temperature>{celsius(18.0), 0.0};
  const auto apart = read_oxygen(examples::cell_of(example), examples::calibration_of(example),
                                 {millivolts(example.signal_mV), 0.0}, gas);
  ASSERT_TRUE(apart);
  expect_rel(apart->factors.temperature, example.by_temperature, "the law keeps the temperature of the gas");
  EXPECT_GT(apart->vapour.si(), example.e_Pa * 1.4) << "the vapour takes that of the probe";
}

std::string refusal(const tl::expected<OxygenReading, ReadingError>& reading) {
  return reading ? "accepted" : reading.error().what;
}

TEST(ReadOxygen, RefusesWithoutASpanOfSignal) {
  auto example = examples::all[0];
  example.cal_mV = example.zero_mV;
  EXPECT_EQ(refusal(examples::read(example)),
            "the calibration has no span: its signal is 0.4 mV and that of the zero 0.4 mV; "
            "give signals (and gases) that differ");
  Calibration calibration = examples::calibration_of(examples::all[0]);
  calibration.low = calibration.span; // the same gas twice
  calibration.low->signal.value = millivolts(5.0);
  EXPECT_NE(refusal(read_oxygen({}, calibration, {millivolts(5.0), 0.0}, gas_of(20, 0.5, 101325))), "accepted");
}

TEST(ReadOxygen, RefusesVapourAtOrAboveTheTotalPressure) {
  const auto& example = examples::all[0];
  const auto reading = read_oxygen(examples::cell_of(example), examples::calibration_of(example),
                                   {millivolts(5.0), 0.0}, gas_of(99.0, 1.0, 90000.0));
  EXPECT_NE(refusal(reading).find("water vapour, which is not below the total pressure of 90 kPa"), std::string::npos)
      << refusal(reading);
}

TEST(ReadOxygen, NamesTheInputAndTheSpanThatItRefuses) {
  auto example = examples::all[0];
  example.cal_Pa = 998e3;
  EXPECT_EQ(refusal(examples::read(example)), "calibration: the pressure is 998 kPa; 20 kPa to 200 kPa is accepted");
  example = examples::all[0];
  example.h = 88.0;
  EXPECT_EQ(refusal(examples::read(example)), "sample: the relative humidity is 8800 %; 0 % to 105 % is accepted");
  example = examples::all[0];
  example.cal_oxygen = 20.946;
  EXPECT_EQ(refusal(examples::read(example)),
            "calibration: the oxygen fraction is 2094.6 %; 0.0001 % to 100 % is accepted");
  example = examples::all[0];
  example.t_C = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(refusal(examples::read(example)),
            "sample: the temperature is not a number; -40 °C to 373.946 °C is accepted");
  examples::Propagated good;
  good.gas.temperature.u_si = -0.3;
  EXPECT_EQ(
      refusal(read_oxygen(good.cell, good.calibration, good.signal, good.gas)),
      "sample: the standard uncertainty of the temperature is -0.3 K; a finite value of zero or more is accepted");
}

TEST(ReadOxygen, RefusesEveryInputThatIsNotFinite) {
  for (const double bad : {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity(),
                           -std::numeric_limits<double>::infinity()}) {
    using Change = void (*)(examples::Propagated&, double);
    const Change changes[] = {
        [](auto& x, double v) { x.signal.value = Signal::from_si(v); },
        [](auto& x, double v) { x.signal.u_si = v; },
        [](auto& x, double v) { x.calibration.zero.value = Signal::from_si(v); },
        [](auto& x, double v) { x.calibration.zero.u_si = v; },
        [](auto& x, double v) { x.calibration.span.signal.value = Signal::from_si(v); },
        [](auto& x, double v) { x.calibration.span.signal.u_si = v; },
        [](auto& x, double v) { x.calibration.span.oxygen.value = DryFraction::from_si(v); },
        [](auto& x, double v) { x.calibration.span.oxygen.u_si = v; },
        [](auto& x, double v) { x.calibration.span.gas.temperature.value = kelvins(v); },
        [](auto& x, double v) { x.calibration.span.gas.humidity.u_si = v; },
        [](auto& x, double v) { x.calibration.span.gas.pressure.value = pascals(v); },
        [](auto& x, double v) { x.gas.temperature.value = kelvins(v); },
        [](auto& x, double v) { x.gas.humidity.value = RelativeHumidity::from_si(v); },
        [](auto& x, double v) {
          x.gas.humidity_temperature = Uncertain<Temperature>{kelvins(v), 0.0};
        },
        [](auto& x, double v) {
          x.gas.humidity_temperature = Uncertain<Temperature>{celsius(20.0), v};
        },
        [](auto& x, double v) { x.gas.pressure.value = pascals(v); },
        [](auto& x, double v) { x.gas.pressure.u_si = v; },
        [](auto& x, double v) {
          x.cell.response = {celsius(20.0), {v}};
        },
    };
    for (std::size_t i = 0; i < std::size(changes); ++i) {
      examples::Propagated inputs;
      changes[i](inputs, bad);
      const auto reading = read_oxygen(inputs.cell, inputs.calibration, inputs.signal, inputs.gas);
      EXPECT_FALSE(reading) << "change " << i << " to " << bad;
      if (!reading) {
        EXPECT_GT(reading.error().what.size(), 20U);
      }
    }
  }
}

TEST(ReadOxygen, RefusesATemperatureResponseThatIsNotPositive) {
  auto example = examples::all[0];
  Cell cell = examples::cell_of(example);
  cell.response = {celsius(20.0), {0.2}}; // 1 + 0.2 (12.2 - 20) is below zero
  const auto reading = read_oxygen(cell, examples::calibration_of(example), {millivolts(5.0), 0.0},
                                   gas_of(example.t_C, example.h, example.p_Pa));
  EXPECT_NE(refusal(reading).find("sample: the cell's temperature response is -0.5556 at 12.22 °C"), std::string::npos)
      << refusal(reading);
}

TEST(ReadOxygen, GivesEveryInputAName) {
  for (std::size_t i = 0; i < input_count; ++i) EXPECT_FALSE(name_of(static_cast<Input>(i)).empty()) << i;
  EXPECT_EQ(name_of(Input::signal), "signal");
  EXPECT_EQ(name_of(Input::cal_humidity), "cal-humidity");
  EXPECT_EQ(name_of(Input::humidity_temperature), "humidity-temperature");
  EXPECT_EQ(name_of(Input::reference_air), "reference-air");
}

} // namespace oxherd::compensation::oxygen_reading_test
