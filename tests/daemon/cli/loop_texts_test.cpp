// What `oxherd control` says of a tuning experiment, and of how a loop performed.
#include <sstream>

#include <gtest/gtest.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/loop_report_text.hpp"
#include "daemon/cli/tuning_text.hpp"

namespace oxherd::daemon::loop_texts_test {

using nlohmann::json;

std::ostringstream nowhere;
const cli::Console plain{nowhere, nowhere, false};

json loop() {
  return {{"loop", "heat"}, {"holds", "temperature"}, {"unit", "°C"}, {"decimals", 1}, {"method", "continuous"}};
}
json with(json of, const char* key, json value) {
  of[key] = std::move(value);
  return of;
}
json tuning(bool running) {
  return {{"running", running},
          {"by", "R. Okafor"},
          {"because", "new heater"},
          {"since", "2026-03-01T08:15:00Z"},
          {"ended", nullptr},
          {"outcome", "the value was lost"},
          {"swings", 2},
          {"low", 20.0},
          {"high", 26.0},
          {"set_point", 23.0},
          {"hysteresis", 0.1},
          {"output_low", 0.2},
          {"output_high", 0.6},
          {"longest_s", 7200.0},
          {"ultimate", nullptr},
          {"proposals", json::array()}};
}
json finished() {
  auto of = tuning(false);
  of["outcome"] = "the tuning experiment is finished";
  of["ultimate"] = {{"gain", 0.4},     {"period_s", 440.0},   {"swing", 3.2},
                    {"on_share", 0.2}, {"output_mean", 0.28}, {"lopsided", true}};
  of["proposals"] = {{{"words", "cautious PI"},
                      {"by_default", true},
                      {"integral_time_s", 968.0},
                      {"settings", "proportional_band = \"8.00 K\", integral_time = \"968 s\""}},
                     {{"words", "quick P"},
                      {"by_default", false},
                      {"integral_time_s", nullptr},
                      {"settings", "proportional_band = \"5.00 K\""}}};
  return of;
}
json report() {
  return {{"since", "2026-03-01T08:15:00Z"},
          {"by", ""},
          {"band", 0.5},
          {"observed_s", 7200.0},
          {"automatic_share", 0.995},
          {"error_mean", 0.04},
          {"error_sd", 0.12},
          {"within_band_share", 0.98},
          {"switchings_per_h", nullptr},
          {"limit_share", 0.01},
          {"step", nullptr},
          {"oscillating", false},
          {"oscillation_period_s", nullptr},
          {"oscillation_amplitude", nullptr},
          {"idle_index", -0.1}};
}
bool says(const std::string& text, std::string_view words) { return text.find(words) != std::string::npos; }

TEST(WhatIsSaidOfTuning, IsNothingWhereThereWasNone) {
  EXPECT_EQ(cli::tuning_text(plain, loop()), "");
  EXPECT_EQ(cli::tuning_text(plain, with(loop(), "tuning", nullptr)), "");
}

TEST(WhatIsSaidOfTuning, TellsWhoseExperimentRunsAndWithin) {
  const auto text = cli::tuning_text(plain, with(loop(), "tuning", tuning(true)));
  EXPECT_TRUE(says(text, "TUNED by R. Okafor since ")) << text;
  EXPECT_TRUE(says(text, ": new heater\n")) << text;
  EXPECT_TRUE(says(text, "swings temperature around 23.0 within 20.0 to 26.0 °C, output 20 % or 60 %, for 2 h at "
                         "most; 2 swings so far"))
      << text;
}

TEST(WhatIsSaidOfTuning, TellsWhyItEndedWithoutAFind) {
  const auto text = cli::tuning_text(plain, with(loop(), "tuning", tuning(false)));
  EXPECT_TRUE(says(text, "after 2 swings: the value was lost\n")) << text;
  EXPECT_FALSE(says(text, "proposed")) << text;
}

TEST(WhatIsSaidOfTuning, ProposesAndSaysWhichToTryFirst) {
  const auto text = cli::tuning_text(plain, with(loop(), "tuning", finished()));
  EXPECT_TRUE(says(text, "ultimate gain Ku 40 % per K, ultimate period Pu 7 min 20 s, swing 3.2 K\n")) << text;
  EXPECT_TRUE(says(text, "repeat it with --output around 28 %")) << text;
  EXPECT_TRUE(says(text, "nothing is changed by itself")) << text;
  EXPECT_TRUE(says(text, "* cautious PI\n          proportional_band = \"8.00 K\", integral_time = \"968 s\"\n"))
      << text;
  EXPECT_TRUE(says(text, "  quick P\n          proportional_band = \"5.00 K\" (the settings always have an "
                         "integral_time)\n"))
      << text;
}

TEST(TheReportOfALoopInWords, SaysThatNothingWasSeen) {
  EXPECT_EQ(cli::loop_report_text("bay-3", with(loop(), "report", nullptr)),
            "bay-3/heat, holds temperature\n  nothing was seen of it yet\n");
}

TEST(TheReportOfALoopInWords, TellsEachFigureWithWhatItMeans) {
  const auto text = cli::loop_report_text("growth-chamber-1", with(loop(), "report", report()));
  for (const auto* words :
       {"2 h ", "99.5 % ", "0.04 K ", "0.12 K ", "98.0 % ", "0.50 K to each side, the default of switch_on_beyond",
        "1.0 % ", "none was seen that was twice the band", "none that is lasting", "near 0 it is well tuned"})
    EXPECT_TRUE(says(text, words)) << words << " in\n" << text;
  EXPECT_FALSE(says(text, "switchings")) << "a register has none\n" << text;
}

TEST(TheReportOfALoopInWords, SaysWhatToDoAboutWhatStandsOut) {
  auto of = report();
  of.update({{"automatic_share", 0.5},
             {"error_mean", -0.4},
             {"limit_share", 0.4},
             {"oscillating", true},
             {"oscillation_period_s", 600.0},
             {"oscillation_amplitude", 1.0},
             {"idle_index", 0.8},
             {"step", {{"size", 5.0}, {"rise_s", 600.0}, {"overshoot", 0.4}, {"settling_s", nullptr}}}});
  const auto text = cli::loop_report_text("growth-chamber-1", with(loop(), "report", of));
  for (const auto* words : {"find out why a person or an interlock did so often", "a lasting one is a limit reached",
                            "too weak an actuator", "10 min, ±1.00 K", "OSCILLATES: widen proportional_band",
                            "near 1 it only creeps back", "40.0 % ", "less set_point_weight", "not seen"})
    EXPECT_TRUE(says(text, words)) << words << " in\n" << text;
}

TEST(TheReportOfALoopInWords, LeavesOutWhatASwitchedLoopDoesByItsNature) {
  auto switched = with(loop(), "method", "on-off");
  auto of = with(report(), "switchings_per_h", 5.5);
  of["limit_share"] = nullptr;
  const auto text = cli::loop_report_text("growth-chamber-1", with(switched, "report", of));
  EXPECT_TRUE(says(text, "5.5 an hour")) << text;
  for (const auto* words : {"at a limit", "oscillation", "idle index"}) EXPECT_FALSE(says(text, words)) << text;
}

} // namespace oxherd::daemon::loop_texts_test
