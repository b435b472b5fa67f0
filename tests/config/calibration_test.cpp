#include <gtest/gtest.h>

#include "tests/config/sample.hpp"

namespace oxherd::calibration_settings_test {

using config_test::settings_of;
using config_test::sound;
using config_test::with;

constexpr std::string_view written = "pressure = \"98.8 kPa\" }";

config::CalibrationSettings calibrated(std::string_view rest) {
  const auto settings = settings_of(with(written, rest));
  if (settings.rooms.empty() || !settings.rooms[0].sensors.at(0).calibration) {
    ADD_FAILURE() << "no calibration was read";
    return {};
  }
  return *settings.rooms[0].sensors[0].calibration;
}

TEST(Calibration, HoldsWhatWasReadAndStatedUncertainties) {
  const auto c = calibrated(written).calibration;
  EXPECT_DOUBLE_EQ(c.span.signal.value.si(), 12.6e-3);
  EXPECT_DOUBLE_EQ(c.span.signal.u_si, 0.02e-3);
  EXPECT_DOUBLE_EQ(c.span.oxygen.value.si(), 0.20946);
  EXPECT_DOUBLE_EQ(c.span.oxygen.u_si, 6e-5);
  EXPECT_DOUBLE_EQ(c.span.gas.temperature.value.si(), 294.15);
  EXPECT_DOUBLE_EQ(c.span.gas.temperature.u_si, 0.3);
  EXPECT_DOUBLE_EQ(c.span.gas.humidity.value.si(), 0.45);
  EXPECT_DOUBLE_EQ(c.span.gas.humidity.u_si, 0.03);
  EXPECT_DOUBLE_EQ(c.span.gas.pressure.value.si(), 98800.0);
  EXPECT_DOUBLE_EQ(c.span.gas.pressure.u_si, 50.0);
  EXPECT_DOUBLE_EQ(c.zero.value.si(), 0.4e-3);
  EXPECT_DOUBLE_EQ(c.zero.u_si, 0.05e-3);
  EXPECT_FALSE(c.low);
}

TEST(Calibration, TakesEveryUncertaintyThatTheFileStates) {
  const auto c = calibrated("pressure = \"98.8 kPa\", u_signal = \"0.1 mV\", u_temperature = \"1 °C\", u_humidity = "
                            "\"5 %\", u_pressure = \"2 hPa\", u_oxygen = \"200 ppm\", u_zero = \"0.2 mV\", "
                            "humidity_temperature = \"20 °C\", u_humidity_temperature = \"0.4 K\" }")
                     .calibration;
  EXPECT_DOUBLE_EQ(c.span.signal.u_si, 0.1e-3);
  EXPECT_DOUBLE_EQ(c.span.gas.temperature.u_si, 1.0);
  EXPECT_DOUBLE_EQ(c.span.gas.humidity.u_si, 0.05);
  EXPECT_DOUBLE_EQ(c.span.gas.pressure.u_si, 200.0);
  EXPECT_DOUBLE_EQ(c.span.oxygen.u_si, 200e-6);
  EXPECT_DOUBLE_EQ(c.zero.u_si, 0.2e-3);
  ASSERT_TRUE(c.span.gas.humidity_temperature);
  EXPECT_DOUBLE_EQ(c.span.gas.humidity_temperature->u_si, 0.4);
}

// ISO 2533:1975: 212 m is H = 211.99293 m of geopotential, where 101325 Pa (1 - 0.0065 H / 288.15)^5.255880 gives
// 98804.08 Pa (worked out with 30 digits).
constexpr double standard_at_212_m = 98804.08;

TEST(Calibration, TakesThePressureFromTheElevationWithTheWeatherAsItsUncertainty) {
  const auto p = calibrated("elevation = \"212 m\" }").calibration.span.gas.pressure;
  EXPECT_NEAR(p.value.si(), standard_at_212_m, 0.005);
  EXPECT_DOUBLE_EQ(p.u_si, 800.0);
}

TEST(Calibration, BringsASeaLevelReportUpToTheSite) {
  // By definition of QNH, the standard report at any height gives the standard pressure of that height.
  const auto p = calibrated("sea_level_pressure = \"1013.25 hPa\" }").calibration.span.gas.pressure;
  EXPECT_NEAR(p.value.si(), standard_at_212_m, 0.005);
  EXPECT_DOUBLE_EQ(p.u_si, 100.0);
  const auto sea = calibrated("sea_level_pressure = \"1013.25 hPa\", elevation = \"0 m\" }").calibration.span.gas;
  EXPECT_NEAR(sea.pressure.value.si(), 101325.0, 0.01);
}

TEST(Calibration, PrefersAMeasuredZeroToTheNominalOne) {
  const auto c = calibrated("pressure = \"98.8 kPa\", zero_signal = \"0.31 mV\" }").calibration;
  EXPECT_DOUBLE_EQ(c.zero.value.si(), 0.31e-3);
  EXPECT_DOUBLE_EQ(c.zero.u_si, 0.02e-3);
}

TEST(Calibration, TakesALowPointInDryGasUnderTheConditionsOfTheSpan) {
  const auto c = calibrated("pressure = \"98.8 kPa\", low = { signal = \"0.9 mV\", oxygen = \"1 %\" } }").calibration;
  ASSERT_TRUE(c.low);
  EXPECT_DOUBLE_EQ(c.low->signal.value.si(), 0.9e-3);
  EXPECT_DOUBLE_EQ(c.low->oxygen.value.si(), 0.01);
  EXPECT_DOUBLE_EQ(c.low->gas.temperature.value.si(), 294.15);
  EXPECT_DOUBLE_EQ(c.low->gas.humidity.value.si(), 0.0);
  EXPECT_DOUBLE_EQ(c.low->gas.pressure.value.si(), 98800.0);
}

TEST(Calibration, GivesTheLowPointNoHumidityProbeUnlessItStatesOne) {
  const auto span = std::string{"pressure = \"98.8 kPa\", humidity_temperature = \"20 °C\", "};
  const auto plain = calibrated(span + "low = { signal = \"0.9 mV\", oxygen = \"1 %\" } }").calibration;
  ASSERT_TRUE(plain.low);
  EXPECT_TRUE(plain.span.gas.humidity_temperature);
  EXPECT_FALSE(plain.low->gas.humidity_temperature);
  const auto own = calibrated(span + "low = { signal = \"0.9 mV\", oxygen = \"1 %\", humidity = \"0 %\", "
                                     "humidity_temperature = \"19 °C\", pressure = \"97 kPa\" } }")
                       .calibration;
  ASSERT_TRUE(own.low);
  EXPECT_DOUBLE_EQ(own.low->gas.humidity.u_si, 0.001); // bone-dry gas is known better than any probe reads
  EXPECT_TRUE(own.low->gas.humidity_temperature);
  EXPECT_DOUBLE_EQ(own.low->gas.pressure.value.si(), 97000.0);
}

TEST(Calibration, KnowsWhenAndByWhom) {
  using namespace std::chrono;
  const auto expected = sys_days{2026y / May / 4} + 7h + 30min;
  const auto by_text = calibrated("pressure = \"98.8 kPa\", at = \"2026-05-04T09:30:00+02:00\", by = \"M. Okoro\" }");
  EXPECT_EQ(by_text.at, expected);
  EXPECT_EQ(by_text.by, "M. Okoro");
  EXPECT_EQ(calibrated("pressure = \"98.8 kPa\", at = 2026-05-04T09:30:00+02:00 }").at, expected);
  EXPECT_EQ(calibrated(written).at, std::nullopt);
}

TEST(Cell, KeepsItsTemperatureResponseAndItsWear) {
  const auto settings = settings_of(with(
      "zero = \"0.4 mV\" }",
      "temperature_response = { reference = \"25 °C\", coefficients = [0.002, -1e-5] }, drift_per_month = \"2 %\", "
      "dead_below = \"0.3 mV\" }"));
  const auto& cell = *settings.rooms.at(0).sensors.at(0).cell;
  EXPECT_DOUBLE_EQ(cell.cell.response.reference.si(), 298.15);
  EXPECT_EQ(cell.cell.response.coefficients, (std::vector<double>{0.002, -1e-5}));
  EXPECT_DOUBLE_EQ(cell.drift_per_month, 0.02);
  EXPECT_DOUBLE_EQ(cell.dead_below.si(), 0.3e-3);
  EXPECT_DOUBLE_EQ(cell.nominal_zero.value.si(), 0.0);
  EXPECT_DOUBLE_EQ(cell.nominal_zero.u_si, 0.3e-3); // nobody stated it
}

TEST(Cell, TakesSixCoefficientsOfItsResponseAndNoMore) {
  const auto said = [](std::string_view coefficients) {
    return config_test::said_about(
        with("zero = \"0.4 mV\" }",
             "zero = \"0.4 mV\", temperature_response = { coefficients = [" + std::string{coefficients} + "] } }"));
  };
  EXPECT_EQ(said("0.001, 0, 0, 0, 0, 0"), std::vector<std::string>{});
  EXPECT_EQ(
      said("0.001, 0, 0, 0, 0, 0, 0"),
      (std::vector<std::string>{"site.toml:21:92: room.annexe.sensor.cell-a.cell.temperature_response.coefficients: "
                                "more than 6 coefficients; such a polynomial swings outside its points"}));
}

TEST(Cell, OfZirconiaHasAFurnaceAndTheAirOfTheSiteOnItsReferenceSide) {
  const auto text = with("model = \"concentration\", zero = \"0.4 mV\"",
                         "model = \"nernst\", furnace = \"650 °C\", u_furnace = \"3 K\"",
                         with("signal = \"12.6 mV\"", "signal = \"0.1 mV\""));
  const auto settings = settings_of(text);
  ASSERT_TRUE(settings.rooms.at(0).sensors.at(0).cell->cell.nernst);
  const auto& nernst = *settings.rooms[0].sensors[0].cell->cell.nernst;
  EXPECT_DOUBLE_EQ(nernst.furnace.value.si(), 923.15);
  EXPECT_DOUBLE_EQ(nernst.furnace.u_si, 3.0);
  EXPECT_NEAR(nernst.reference_air.pressure.value.si(), standard_at_212_m, 0.005);
  EXPECT_DOUBLE_EQ(nernst.reference_oxygen.value.si(), 0.20946);
}

} // namespace oxherd::calibration_settings_test
