#include <algorithm>
#include <cmath>
#include <map>

#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::explain_test {

using cli_test::Outcome;
using cli_test::run_words;
using nlohmann::json;
using Changes = std::map<std::string, std::string>;

/// E1 of the worked examples: concentration cell, 54 °F, 640 m (geometric) by the standard atmosphere.
const Changes e1{{"--cell", "concentration"},  {"--zero", "0.4mV"},       {"--cal-signal", "12.6mV"},
                 {"--cal-temperature", "21C"}, {"--cal-humidity", "45%"}, {"--cal-pressure", "99.8kPa"},
                 {"--signal", "11.9mV"},       {"--temperature", "54F"},  {"--humidity", "88%"},
                 {"--elevation", "640m"}};

/// E1 with options replaced, added, or (empty value) left out; `--json` as a flag.
std::vector<std::string> words_of(const Changes& changes, bool as_json) {
  auto options = e1;
  for (const auto& [name, value] : changes) options[name] = value;
  std::vector<std::string> out{"explain"};
  for (const auto& [name, value] : options)
    if (!value.empty()) out.insert(out.end(), {name, value});
  if (as_json) out.emplace_back("--json");
  return out;
}

Outcome explain(const Changes& changes) { return run_words(words_of(changes, false)); }

json explain_json(const Changes& changes) {
  const auto got = run_words(words_of(changes, true));
  EXPECT_EQ(got.code, cli::fine) << got.err;
  auto out = json::parse(got.out, nullptr, false);
  EXPECT_TRUE(out.is_object()) << got.out;
  return out;
}

bool has_warning(const json& answer, std::string_view start) {
  return std::ranges::any_of(answer["warnings"], [&](const json& warning) {
    return warning.get<std::string>().find(start) != std::string::npos;
  });
}

// Worked example E1, computed with 50 digits from IAPWS R7-97 equation (30), the enhancement factor of CIPM-2007
// appendix A.1 and the ISO 2533 atmosphere; twelve digits are printed, 1e-9 is asked.
TEST(ExplainAsJson, GivesTheWorkedExample) {
  const auto got = explain_json({});
  const auto near = [](const json& value, double expected) {
    EXPECT_NEAR(value.get<double>(), expected, 1e-9 * std::abs(expected));
  };
  near(got["dry_fraction"], 0.204090595578);
  near(got["wet_fraction"], 0.201357064055);
  near(got["po2_kpa"], 18.901355011);
  near(got["uncorrected_fraction"], 0.197441803279);
  near(got["factors"]["temperature"], 0.970158838083);
  near(got["factors"]["pressure"], 1.06317430581);
  near(got["factors"]["humidity"], 1.00215885324);
  near(got["pressure_kpa"], 93.8698381393);
  near(got["cal_pressure_kpa"], 99.8);
  near(got["vapour_pressure_kpa"], 1.25726597487);
  near(got["saturation_pressure_kpa"], 1.42351384796);
  near(got["cal_vapour_pressure_kpa"], 1.12412505001);
  near(got["molar_mol_m3"], 7.96612390292);
  near(got["mass_g_m3"], 254.900032646);
  near(got["sea_level_equivalent"], 0.186541870328);
  EXPECT_EQ(got["caution"], std::string{alarms::caution_short()});
}

// The same correction propagated by GUM (JCGM 100:2008) equation (10) with 50-digit numerical derivatives: y and u.
TEST(ExplainAsJson, GivesTheUncertaintyOfTheWorkedExample) {
  const auto got = explain_json({{"--temperature", "12.2C"},
                                 {"--elevation", ""},
                                 {"--pressure", "93870Pa"},
                                 {"--u-zero", "0.05mV"},
                                 {"--u-cal-signal", "0.02mV"},
                                 {"--u-signal", "0.02mV"},
                                 {"--u-cal-temperature", "0.3K"},
                                 {"--u-cal-humidity", "3%"},
                                 {"--u-cal-pressure", "50Pa"},
                                 {"--u-temperature", "0.3K"},
                                 {"--u-humidity", "3%"},
                                 {"--u-pressure", "800Pa"},
                                 {"--cal-oxygen", "20.946%"},
                                 {"--u-cal-oxygen", "0.006%"}});
  EXPECT_NEAR(got["dry_fraction"].get<double>(), 0.204070295120, 1e-9 * 0.204);
  EXPECT_NEAR(got["u"]["dry_fraction"].get<double>(), 0.0018788312, 1e-7 * 0.00188);
  EXPECT_NEAR(got["expanded"]["dry_fraction"].get<double>(), 2 * 0.0018788312, 1e-7 * 0.0038);
  EXPECT_EQ(got["budget"][0]["input"], "pressure");
  EXPECT_NEAR(got["budget"][0]["contribution"].get<double>(), 0.00176268, 1e-8);
  EXPECT_EQ(got["assumed"], json::array());
  double shares = 0.0;
  for (const auto& line : got["budget"]) shares += line["share"].get<double>();
  EXPECT_NEAR(shares, 1.0, 1e-12);
}

TEST(ExplainAsJson, NamesEveryUncertaintyItAssumed) {
  const auto got = explain_json({{"--u-signal", "0.03mV"}});
  const auto assumed = got["assumed"].get<std::vector<std::string>>();
  EXPECT_EQ(std::ranges::count(assumed, "u of temperature: 0.3 K"), 1);
  EXPECT_EQ(std::ranges::count(assumed, "cal-oxygen: 20.946 %"), 1);
  EXPECT_EQ(std::ranges::count(assumed, "u of pressure: 0.8 kPa, the weather's share"), 1);
  EXPECT_TRUE(std::ranges::none_of(assumed, [](const auto& line) { return line.starts_with("u of signal"); }));
}

TEST(ExplainAsJson, WidensTheUncertaintyOfAZeroThatNobodyTyped) {
  const auto typed = explain_json({{"--zero", "0mV"}});
  const auto assumed = explain_json({{"--zero", ""}});
  EXPECT_EQ(typed["dry_fraction"], assumed["dry_fraction"]);
  EXPECT_LT(typed["u"]["dry_fraction"].get<double>(), assumed["u"]["dry_fraction"].get<double>());
}

TEST(ExplainAsJson, AddsTheWeatherAndTheHeightToAPressureFromElevation) {
  const auto u_of = [](const Changes& changes) { return explain_json(changes)["u"]["dry_fraction"].get<double>(); };
  const double measured = u_of({{"--elevation", ""}, {"--pressure", "93.86983813933kPa"}, {"--u-pressure", "0.8kPa"}});
  const double exact_height = u_of({{"--u-elevation", "0m"}});
  EXPECT_NEAR(exact_height, measured, 1e-9 * measured); // 0.8 kPa of weather is assumed
  // At 640 m the standard atmosphere loses 11.3 Pa/m: 70 m are another 0.8 kPa.
  const double unsure_height = u_of({{"--u-elevation", "70m"}});
  const double twice = u_of({{"--elevation", ""}, {"--pressure", "93.86983813933kPa"}, {"--u-pressure", "1.13kPa"}});
  EXPECT_NEAR(unsure_height, twice, 0.01 * twice);
}

TEST(ExplainAsJson, TakesGasOfHumidityZeroAsDry) {
  const auto got = explain_json({{"--cal-humidity", "0%"}});
  EXPECT_EQ(got["cal_vapour_pressure_kpa"].get<double>(), 0.0);
  const auto assumed = got["assumed"].get<std::vector<std::string>>();
  EXPECT_EQ(std::ranges::count(assumed, "u of cal-humidity: 0 %"), 1);
}

// Worked example E8: partial-pressure cell, station pressure from QNH 1020.0 hPa. Its 640 m are geopotential, so the
// map height is r H / (r - H) = 640.06444 m with the earth radius of ISO 2533.
TEST(ExplainAsJson, ObtainsTheStationPressureFromASeaLevelReport) {
  const auto got = explain_json({{"--cell", "partial-pressure"},
                                 {"--zero", "0.25mV"},
                                 {"--cal-signal", "12.0mV"},
                                 {"--signal", "10.4mV"},
                                 {"--cal-temperature", "20C"},
                                 {"--cal-humidity", "50%"},
                                 {"--cal-pressure", "1000hPa"},
                                 {"--temperature", "38C"},
                                 {"--humidity", "95%"},
                                 {"--sea-level-pressure", "1020hPa"},
                                 {"--elevation", "640.0644417683m"}});
  EXPECT_NEAR(got["pressure_kpa"].get<double>(), 94.5036265579, 1e-6);
  EXPECT_NEAR(got["dry_fraction"].get<double>(), 0.202793008723, 1e-8);
  EXPECT_EQ(got["pressure_from"], "report reduced to sea level, at 640.064 m");
}

// Worked example E7: temperature response with reference 20 °C.
TEST(ExplainAsJson, AppliesATypedTemperatureResponse) {
  const auto got = explain_json({{"--zero", "0.1mV"},
                                 {"--cal-signal", "11.5mV"},
                                 {"--signal", "11.2mV"},
                                 {"--cal-temperature", "22C"},
                                 {"--cal-humidity", "40%"},
                                 {"--cal-pressure", "100.8kPa"},
                                 {"--temperature", "33C"},
                                 {"--humidity", "70%"},
                                 {"--elevation", ""},
                                 {"--pressure", "100.2kPa"},
                                 {"--temperature-response", "0.0025,-1e-5@20C"}});
  EXPECT_NEAR(got["dry_fraction"].get<double>(), 0.21281047557, 1e-9 * 0.2128);
}

// Worked example E5: bone-dry 5.000 % span gas, typed here as the low point's counterpart of a nitrogen zero.
TEST(ExplainAsJson, ReadsATwoPointCalibration) {
  const auto one = explain_json({{"--zero", "0.4mV"}, {"--cal-humidity", "0%"}});
  const auto two = explain_json(
      {{"--zero", ""}, {"--cal-humidity", "0%"}, {"--cal-low-signal", "0.4mV"}, {"--cal-low-oxygen", "0%"}});
  EXPECT_NEAR(one["dry_fraction"].get<double>(), two["dry_fraction"].get<double>(), 1e-12);
}

// The Nernst equation with exact constants: equal partial pressures on both sides and the calibration's own signal
// give the calibration's fraction; a decade less oxygen adds 48.27345392 mV at 700 °C.
TEST(ExplainAsJson, ReadsAZirconiaCell) {
  const Changes nernst{
      {"--cell", "nernst"},     {"--zero", ""},        {"--cal-signal", "0mV"}, {"--signal", "48.27345392mV"},
      {"--temperature", "21C"}, {"--humidity", "45%"}, {"--elevation", ""},     {"--pressure", "99.8kPa"},
      {"--furnace", "700C"}};
  const auto got = explain_json(nernst);
  EXPECT_NEAR(got["dry_fraction"].get<double>(), 0.020946, 1e-9);
  auto same = nernst;
  same["--signal"] = "0mV";
  EXPECT_NEAR(explain_json(same)["dry_fraction"].get<double>(), 0.20946, 1e-12);

  // An open reference side follows the barometer, a closed one does not: then the fraction goes as 1/p.
  auto falling = same;
  falling["--humidity"] = falling["--cal-humidity"] = falling["--reference-humidity"] = "0%";
  falling["--pressure"] = "95kPa";
  EXPECT_NEAR(explain_json(falling)["dry_fraction"].get<double>(), 0.20946, 1e-12);
  falling["--reference-pressure"] = "99.8kPa";
  EXPECT_NEAR(explain_json(falling)["dry_fraction"].get<double>(), 0.20946 * 99.8 / 95.0, 1e-9);
}

double contribution_of(const json& answer, std::string_view input) {
  for (const auto& line : answer["budget"])
    if (line["input"] == input) return line["contribution"].get<double>();
  return 0.0;
}

// Signal errors by hand, for a cell whose reading is proportional to the signal above its zero: 11.5 mV here.
TEST(ExplainAsJson, CountsResolutionLinearityAndDriftEachByItself) {
  const auto plain = explain_json({});
  const double dry = plain["dry_fraction"].get<double>();
  const double u = plain["u"]["dry_fraction"].get<double>();
  for (const std::string_view input : {"resolution", "linearity", "drift"})
    EXPECT_EQ(contribution_of(plain, input), 0.0);

  const auto resolution = explain_json({{"--resolution", "0.1mV"}});
  EXPECT_NEAR(contribution_of(resolution, "resolution"), dry / 11.5 * 0.1 / std::sqrt(12.0), 1e-12);
  EXPECT_NEAR(resolution["u"]["dry_fraction"].get<double>(), std::hypot(u, dry / 11.5 * 0.1 / std::sqrt(12.0)), 1e-12);

  const double a = 11.5 / 12.2; // between the zero and the calibration signal
  EXPECT_NEAR(contribution_of(explain_json({{"--linearity", "2%"}}), "linearity"),
              dry / 11.5 * 0.02 * 4.0 * a * (1.0 - a) * 12.2, 1e-12);

  const auto drift = explain_json({{"--cal-age", "60.875d"}, {"--drift", "1.5%"}}); // two months of 30.4375 days
  EXPECT_NEAR(contribution_of(drift, "drift"), dry * 2.0 * 0.015 / std::sqrt(3.0), 1e-12);
  const auto assumed = explain_json({{"--cal-age", "60.875d"}});
  EXPECT_NEAR(contribution_of(assumed, "drift"), dry * 2.0 * 0.01 / std::sqrt(3.0), 1e-12);
  EXPECT_EQ(assumed["assumed"].back(), "drift: 1 % per month since the calibration");
}

// Sensitivity by hand: 12.2 mV over the oxygen at calibration, 20.946 % of 99.8 kPa less 1.12412505001 kPa of vapour.
TEST(ExplainAsJson, GivesTheSensitivityOfTheCellInReadableUnits) {
  const double po2_kPa = 0.20946 * (99.8 - 1.12412505001);
  const auto pressure = explain_json({{"--cell", "partial-pressure"}});
  EXPECT_EQ(pressure["sensitivity_unit"], "mV/kPa");
  EXPECT_NEAR(pressure["sensitivity"].get<double>(), 12.2 / po2_kPa, 1e-9);
  EXPECT_GT(pressure["u_sensitivity"].get<double>(), 0.0);
  EXPECT_NEAR(pressure["zero_mv"].get<double>(), 0.4, 1e-12);
  const auto concentration = explain_json({});
  EXPECT_EQ(concentration["sensitivity_unit"], "mV/(mol/m³)");
  EXPECT_NEAR(concentration["sensitivity"].get<double>(), 12.2 * 8.31446261815324 * 294.15 / (po2_kPa * 1e3), 1e-9);
  const auto two = explain_json({{"--zero", ""},
                                 {"--cal-low-signal", "1.62mV"},
                                 {"--cal-low-oxygen", "2.0946%"},
                                 {"--cell", "mole-fraction"},
                                 {"--cal-humidity", "0%"}});
  EXPECT_EQ(two["sensitivity_unit"], "mV per % oxygen");
  EXPECT_NEAR(two["sensitivity"].get<double>(), (12.6 - 1.62) / (20.946 - 2.0946), 1e-9);
  EXPECT_NEAR(two["zero_mv"].get<double>(), 0.4, 1e-9); // 12.6 - 10.98 / 0.9
}

TEST(ExplainWarnings, NameEachDoubtOnce) {
  EXPECT_TRUE(has_warning(explain_json({{"--cal-age", "91d"}}), "stale calibration: 91 days old"));
  EXPECT_FALSE(has_warning(explain_json({{"--cal-age", "90d"}}), "stale"));
  EXPECT_TRUE(has_warning(explain_json({{"--cal-oxygen", "5%"}, {"--signal", "15.5mV"}}),
                          "outside the cell's span: it was calibrated from 0 % to 5 % oxygen and reads 6"));
  EXPECT_FALSE(has_warning(explain_json({{"--cal-oxygen", "5%"}, {"--signal", "13mV"}}), "outside the cell's span"));
  EXPECT_TRUE(has_warning(explain_json({{"--temperature", "40C"}}), "far from calibration: 19 K apart"));
  EXPECT_TRUE(has_warning(explain_json({{"--elevation", "1500m"}}), "far from calibration: the pressure is 85 %"));
  EXPECT_TRUE(has_warning(explain_json({{"--humidity", "98%"}}), "now: humidity 98 % can condense"));
  EXPECT_TRUE(has_warning(explain_json({{"--cal-humidity", "98%"}}), "at calibration: humidity 98 % can condense"));
  EXPECT_TRUE(has_warning(explain_json({{"--temperature", "-3C"}}), "now: -3.0 °C is below freezing"));
  EXPECT_TRUE(has_warning(explain_json({{"--signal", "0.2mV"}}), "the reading is below zero (-0.35 %)"));
  EXPECT_TRUE(has_warning(explain_json({{"--signal", "16mV"}}), "the reading is above 25 %"));
  EXPECT_TRUE(
      has_warning(explain_json({{"--pressure", "101.5kPa"}}), "101.50 kPa looks like a pressure reduced to sea level"));
}

TEST(ExplainWarnings, AreSilentWhereNothingIsDoubtful) {
  EXPECT_EQ(explain_json({})["warnings"], json::array());
  EXPECT_EQ(explain_json({{"--humidity", "97%"}})["warnings"], json::array());
  EXPECT_EQ(explain_json({{"--pressure", "93.9kPa"}})["warnings"], json::array());
  // Below 150 m the two pressures cannot be told apart.
  EXPECT_EQ(explain_json({{"--pressure", "101.3kPa"}, {"--elevation", "100m"}})["warnings"], json::array());
}

TEST(ExplainAsText, ShowsEveryStepAndTheCaution) {
  const auto got = explain({});
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_EQ(got.err, "");
  for (const std::string_view part :
       {"Cell model concentration", "signal now             11.9 mV ± 0.02 mV", "uncorrected            19.744 %",
        "12.22 °C ± 0.3 K", "standard atmosphere (ISO 2533) at 640 m", "saturation pressure  1.4235 kPa",
        "temperature  x 0.970159  -2.98 %", "together     x 1.033675  +3.37 %", "oxygen, dry basis     20.409 %",
        "oxygen, wet basis     20.136 %", "partial pressure      18.901 kPa", "sea-level equivalent  18.654 %",
        "sensitivity            ", " mV/(mol/m³)", "Assumed, because it was not given:\n  - u of signal: 0.02 mV",
        "Supplementary monitor."})
    EXPECT_NE(got.out.find(part), std::string::npos) << part << "\n" << got.out;
  EXPECT_EQ(got.out.find("Warnings"), std::string::npos);
  EXPECT_NE(explain({{"--humidity", "99%"}}).out.find("Warnings:\n  - now: humidity 99 %"), std::string::npos);
}

TEST(ExplainAsText, SortsTheBudgetByContribution) {
  const auto got = explain({});
  EXPECT_LT(got.out.find("\n  pressure         0.1780 %  87.4 %"), got.out.find("\n  signal           0.0355 %"));
}

struct WrongInput {
  Changes changes;
  std::string message;
};

TEST(ExplainRefuses, EachMistakeWithItsOwnMessage) {
  const std::vector<WrongInput> table{
      {{{"--signal", "11.9kPa"}}, "--signal: \"11.9kPa\" is a pressure; write a voltage such as \"12.6 mV\""},
      {{{"--temperature", "54"}}, "--temperature: \"54\" has no unit; write a temperature such as \"21 °C\""},
      {{{"--humidity", ""}}, "--humidity is missing: relative humidity over water, such as --humidity 88%"},
      {{{"--elevation", ""}},
       "--pressure is missing (or --elevation): station pressure, measured, such as --pressure 99.8kPa"},
      {{{"--elevation", ""}, {"--sea-level-pressure", "1013hPa"}},
       "--elevation is missing: height above sea level; alone, it gives the pressure of the standard atmosphere, such "
       "as "
       "--elevation 640m"},
      {{{"--pressure", "99kPa"}, {"--sea-level-pressure", "1013hPa"}},
       "--pressure and --sea-level-pressure exclude each other"},
      {{{"--u-signal", "-0.1mV"}}, "--u-signal: a standard uncertainty cannot be negative"},
      {{{"--u-cal-elevation", "5m"}}, "--u-cal-elevation is given without --cal-elevation"},
      {{{"--cal-low-signal", "0.5mV"}, {"--cal-low-oxygen", "1%"}},
       "--zero and --cal-low-signal exclude each other: both are the low point"},
      {{{"--furnace", "700C"}}, "--furnace and --reference-... belong to --cell nernst"},
      {{{"--elevation", "20km"}}, "--elevation: the standard atmosphere is used from -2000 m to 11000 m"},
      {{{"--cell", "nernst"}},
       "--zero: the voltage of a nernst cell has no zero; a second point is given by --cal-low-..."},
      {{{"--drift", "1%"}}, "--drift needs --cal-age: it counts from the calibration on"},
      {{{"--cal-age", "99999999d"}}, "--cal-age: no cell lives that long"},
      {{{"--resolution", "-1mV"}}, "--resolution: it cannot be negative"},
      {{{"--cal-age", "40"}}, "--cal-age: \"40\" has no unit; write a duration such as \"5 s\""},
      {{{"--temperature-response", "0.0025"}},
       "--temperature-response: write the coefficients per kelvin and the temperature they count from, such as "
       "\"0.0025,-1e-5@20C\""}};
  for (const auto& row : table) {
    const auto got = explain(row.changes);
    EXPECT_EQ(got.code, cli::usage) << row.message;
    EXPECT_EQ(got.out, "");
    EXPECT_EQ(got.err, "oxherd explain: " + row.message + '\n');
  }
}

TEST(ExplainRefuses, EveryMistakeAtOnceNotOnlyTheFirst) {
  const auto got = run_words({"explain", "--signal", "11.9kPa", "--humidity", "88%"});
  EXPECT_EQ(got.code, cli::usage);
  for (const std::string_view name :
       {"--signal: ", "--temperature is missing", "--pressure is missing (or --elevation)", "--cal-signal is missing",
        "--cal-temperature is missing", "--cal-humidity is missing", "--cal-pressure is missing (or --cal-elevation)"})
    EXPECT_NE(got.err.find(name), std::string::npos) << name;
}

TEST(ExplainRefuses, AnUnknownModelWithTheNearest) {
  const auto got = explain({{"--cell", "concentraton"}});
  EXPECT_EQ(got.code, cli::usage);
  EXPECT_TRUE(
      got.err.starts_with("oxherd explain: --cell: there is no model \"concentraton\"; it is \"concentration\","))
      << got.err;
}

TEST(ExplainRefuses, ImpossibleGasWithExitCodeOne) {
  const auto got = explain({{"--cal-signal", "0.4mV"}});
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_EQ(got.out, "");
  EXPECT_NE(got.err.find("the calibration has no span"), std::string::npos) << got.err;
}

} // namespace oxherd::daemon::explain_test
