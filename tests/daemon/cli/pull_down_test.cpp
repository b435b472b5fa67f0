#include <algorithm>
#include <cmath>

#include <nlohmann/json.hpp>

#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::pull_down_test {

using cli_test::run_words;
using nlohmann::json;
using Words = std::vector<std::string>;

/// 500 m3 from 20.95 % to 5 % by 20 m3/h with 0.5 % oxygen.
Words worked_example(Words more = {}) {
  Words words{"pull-down", "--to",     "5 %",    "--from",   "20.95 %", "--supply",
              "20 m3/h",   "--purity", "99.5 %", "--volume", "500 m3"};
  words.insert(words.end(), more.begin(), more.end());
  return words;
}
const Words sure{"--u-from", "0 %",        "--u-supply", "0 m3/h",     "--u-purity",
                 "0 %",      "--u-volume", "0 m3",       "--u-mixing", "0"};

json forecast_of(Words words) {
  words.push_back("--json");
  const auto got = run_words(words);
  EXPECT_EQ(got.code, cli::fine) << got.err;
  return json::parse(got.out, nullptr, false);
}

// By hand: t = V/Q ln((C0 - Cs) / (C - Cs)) = 25 h ln((20.95 - 0.5) / (5 - 0.5)) = 37.848 h, and 20 m3 for each hour.
TEST(PullDown, AgreesWithTheEquationByHand) {
  const auto got = forecast_of(worked_example(sure));
  EXPECT_NEAR(got["time_s"].get<double>() / 3600.0, 37.8476, 1e-4);
  EXPECT_NEAR(got["supply_m3"].get<double>(), 756.953, 1e-3);
  EXPECT_NEAR(got["end_fraction"].get<double>(), 0.005, 1e-12);
  EXPECT_EQ(got["u_time_s"], 0.0);
  EXPECT_EQ(got["doubtful"], false);
}

TEST(PullDown, StatesTheIntervalOfWhatIsUncertain) {
  auto certain = sure;
  const auto at = std::ranges::find(certain, "0 m3");
  *at = "25 m3"; // 5 % of the volume are 5 % of the time
  const auto got = forecast_of(worked_example(certain));
  const double time_s = got["time_s"];
  EXPECT_NEAR(got["u_time_s"].get<double>() / time_s, 0.05, 1e-9);
  EXPECT_NEAR(got["time_95_s"][0].get<double>() / time_s, 1.0 - 0.05 * 1.959964, 1e-7);
  EXPECT_NEAR(got["time_95_s"][1].get<double>() / time_s, 1.0 + 0.05 * 1.959964, 1e-7);
  EXPECT_NEAR(got["u_supply_m3"].get<double>() / got["supply_m3"].get<double>(), 0.05, 1e-9);
  EXPECT_EQ(got["u_volume_m3"], 25.0);
}

TEST(PullDown, DoubtsWhatNobodyTyped) {
  const auto got = forecast_of(worked_example());
  EXPECT_EQ(got["u_volume_m3"], 50.0);
  EXPECT_DOUBLE_EQ(got["u_supply_m3_per_h"].get<double>(), 2.0);
  EXPECT_DOUBLE_EQ(got["u_mixing"].get<double>(), 0.2);
  EXPECT_NEAR(got["u_supply_percent"].get<double>(), 0.1, 1e-9);
  EXPECT_GT(got["u_time_s"].get<double>(), 0.2 * got["time_s"].get<double>());
}

TEST(PullDown, FollowsTheCourseFromStartToTarget) {
  const auto course = forecast_of(worked_example())["course"];
  ASSERT_EQ(course.size(), 11U);
  EXPECT_EQ(course[0]["fraction"], 0.2095);
  EXPECT_EQ(course[0]["after_s"], 0.0);
  EXPECT_NEAR(course[5]["fraction"].get<double>(), 0.005 + 0.2045 * std::exp(-37.8476 / 2.0 / 25.0), 1e-7);
  EXPECT_NEAR(course[10]["fraction"].get<double>(), 0.05, 1e-12);
  EXPECT_NEAR(course[10]["supply_m3"].get<double>(), 756.953, 1e-3);
}

TEST(PullDown, PrintsTimeGasCourseInputsAndTheCaution) {
  const auto got = run_words(worked_example());
  EXPECT_EQ(got.code, cli::fine);
  EXPECT_EQ(got.err, "");
  for (const auto* part : {"Pull-down from 20.95 % to 5.00 % oxygen\n", "time              1 d 13 h",
                           "gas               757 m3", "95 %: ", "comes to rest at  0.50 %", "after", "########",
                           "free volume", "500 m3", "u 50 m3", "Nobody may enter until", "Supplementary monitor."})
    EXPECT_NE(got.out.find(part), std::string::npos) << part << '\n' << got.out;
  EXPECT_EQ(got.out.find("DOUBTFUL"), std::string::npos) << got.out;
}

TEST(PullDown, CountsLeakAndRespiration) {
  // Comes to rest at (20 x 0.5 % + 1 x 20.946 %) / 21 with the leak, and lower by 0.06 / 21 with what goods use.
  const auto leaky = forecast_of(worked_example({"--leak", "1 m3/h"}));
  EXPECT_NEAR(leaky["end_fraction"].get<double>(), (20 * 0.005 + 0.20946) / 21.0, 1e-9);
  const auto used = forecast_of(worked_example({"--leak", "1 m3/h", "--respiration", "1 l/min"}));
  EXPECT_NEAR(used["end_fraction"].get<double>(), (20 * 0.005 + 0.20946 - 0.06) / 21.0, 1e-9);
  EXPECT_NEAR(used["respiration_m3_per_h"].get<double>(), 0.06, 1e-12);
  EXPECT_LT(used["time_s"].get<double>(), leaky["time_s"].get<double>());
}

TEST(PullDown, WarnsWhereTheTargetIsHardlyBeyondReach) {
  auto words = worked_example();
  words[2] = "0.6 %";
  EXPECT_EQ(forecast_of(words)["doubtful"], true);
  const auto got = run_words(words);
  EXPECT_NE(got.out.find("DOUBTFUL: "), std::string::npos) << got.out;
}

TEST(PullDown, SaysWhenItIsNeverReached) {
  auto words = worked_example();
  words[2] = "0.4 %";
  const auto got = run_words(words);
  EXPECT_EQ(got.code, cli::failed);
  EXPECT_EQ(got.out, "");
  EXPECT_EQ(got.err, "oxherd pull-down: 0.40 % is never reached: the room comes to rest at 0.50 %\n");
}

TEST(PullDown, RefusesAWrongCommandLine) {
  struct Row {
    Words words;
    std::string message;
  };
  const std::vector<Row> table{
      {{}, "--to is missing: the oxygen to reach, such as --to \"5 %\""},
      {{"a", "b", "--to", "5 %"}, "name one room"},
      {{"--to", "5 %", "--supply", "20 m3/h"},
       "--volume is missing: the room's free volume, such as --volume \"500 m3\""},
      {{"--to", "5 %", "--volume", "500 m3"}, "--supply is missing: the flow of the gas, such as --supply \"20 m3/h\""},
      {{"--to", "5 kPa", "--volume", "500 m3", "--supply", "20 m3/h"},
       "--to: \"5 kPa\" is a pressure; write a fraction such as \"19.5 %\""},
      {{"--to", "105 %", "--volume", "500 m3", "--supply", "20 m3/h"}, "--to: write a fraction from 0 % to 100 %"},
      {{"--to", "5 %", "--volume", "0 m3", "--supply", "20 m3/h"}, "the room's free volume must be above 0 m3"},
      {{"--to", "5 %", "--volume", "500 m3", "--supply", "-1 m3/h"}, "the supply's flow must be 0 or more"},
      {{"--to", "5 %", "--volume", "500 m3", "--supply", "20 m3/h", "--mixing", "0.5"},
       "the mixing factor must be 1 or more"},
      {{"--to", "5 %", "--volume", "500 m3", "--supply", "20 m3/h", "--leak", "-1 m3/h"}, "the leak must be 0 or more"},
      {{"--to", "5 %", "--volume", "500 m3", "--supply", "20 m3/h", "--u-volume", "-5 m3"},
       "--u-volume: a standard uncertainty cannot be negative"},
      {{"--to", "5 %", "--volume", "500 m3", "--supply", "20 m3/h", "--respiration", "-1 l/min"},
       "--respiration: write the oxygen that goods use, 0 or more"}};
  for (const auto& row : table) {
    auto words = row.words;
    words.insert(words.begin(), "pull-down");
    const auto got = run_words(words);
    EXPECT_EQ(got.code, cli::usage) << row.message;
    EXPECT_EQ(got.err, "oxherd pull-down: " + row.message + '\n');
  }
}

/// Larkfield with the purge of its store.
class PullDownOfARoom : public testing::Test {
protected:
  PullDownOfARoom() {
    std::ifstream in{std::string{OXHERD_SOURCE_DIR} + "/demo/larkfield.toml"};
    std::ostringstream text;
    text << in.rdbuf();
    file = dir.file("larkfield.toml", text.str() + R"(
[output.pear-nitrogen]
kind = "actuator"
room = "pear-store-2"
duty = "nitrogen-purge"
bus = "stores"
unit = 6
coil = 0
flow = "40 m3/h"
gas_oxygen = "1 %"
)");
  }
  const cli_test::TemporaryDirectory dir;
  std::string file;
};

TEST_F(PullDownOfARoom, TakesVolumeAndPurgeFromTheSettings) {
  const auto got = forecast_of({"pull-down", "pear-store-2", "--to", "2 %", "--config", file});
  EXPECT_EQ(got["room"], "pear-store-2");
  EXPECT_EQ(got["volume_m3"], 130.0);
  EXPECT_NEAR(got["supply_m3_per_h"].get<double>(), 40.0, 1e-9);
  EXPECT_NEAR(got["supply_percent"].get<double>(), 1.0, 1e-9);
  EXPECT_NEAR(got["time_s"].get<double>(), 130.0 / 40.0 * 3600.0 * std::log((20.946 - 1.0) / (2.0 - 1.0)), 1e-3);
}

TEST_F(PullDownOfARoom, PutsWhatIsTypedBeforeTheSettings) {
  const auto got = forecast_of({"pull-down", "pear-store-2", "--to", "2 %", "--config", file, "--supply", "20 m3/h",
                                "--volume", "100 m3", "--purity", "99 %", "--mixing", "2"});
  EXPECT_NEAR(got["time_s"].get<double>(), 2.0 * 100.0 / 20.0 * 3600.0 * std::log((20.946 - 1.0) / (2.0 - 1.0)), 1e-3);
}

TEST_F(PullDownOfARoom, NamesTheRoomThatIsMeantAndWhatIsWrongInTheFile) {
  const auto mistyped = run_words({"pull-down", "pear-store", "--to", "2 %", "--config", file});
  EXPECT_EQ(mistyped.code, cli::usage);
  EXPECT_NE(mistyped.err.find("there is no room \"pear-store\""), std::string::npos) << mistyped.err;
  const auto missing =
      run_words({"pull-down", "pear-store-2", "--to", "2 %", "--config", (dir.path() / "no.toml").string()});
  EXPECT_EQ(missing.code, cli::failed);
  EXPECT_NE(missing.err.find("the settings cannot be read: "), std::string::npos) << missing.err;
}

} // namespace oxherd::daemon::pull_down_test
