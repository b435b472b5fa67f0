#pragma once

#include <fstream>
#include <iterator>
#include <sstream>
#include <string>
#include <vector>

#include <gtest/gtest.h>

#include "daemon/logfile/correct_file.hpp"
#include "daemon/logfile/recipe.hpp"
#include "tests/daemon/cli/cli_fixture.hpp"

namespace oxherd::daemon::logfile_test {

/// The cell and the calibration of every recipe here: worked example E1 of the compensation.
inline constexpr const char* cell_tables = R"(
[cell]
model = "concentration"
zero = "0.4 mV"
[calibration]
signal = "12.6 mV"
temperature = "21 °C"
humidity = "45 %"
pressure = "99.8 kPa"
)";

/// A file of time, signal, temperature, humidity and pressure, in the units that need no thought.
inline constexpr const char* plain_columns = R"(
[time]
column = "time"
[signal]
column = "mV"
unit = "mV"
[temperature]
column = "T"
unit = "°C"
[humidity]
column = "RH"
unit = "%"
[pressure]
column = "p"
unit = "kPa"
)";
inline constexpr const char* plain_header = "time,mV,T,RH,p\n";
/// Corrected by a second implementation (the same equations in Python, GUM equation (10) by its `uncertainties`
/// module): 20.407029512 % with a standard uncertainty of 0.065962404 %.
inline constexpr const char* plain_row = "2026-03-02T06:00:00Z,11.9,12.2,88,93.87\n";

inline std::string plain_recipe(const std::string& more = "") {
  return plain_columns + std::string{cell_tables} + more;
}

inline std::string text_of_file(const std::string& name) {
  std::ifstream in{name, std::ios::binary};
  return {std::istreambuf_iterator<char>{in}, {}};
}

inline std::string problems_of(const tl::expected<logfile::Recipe, std::vector<config::Problem>>& recipe) {
  std::string all;
  if (recipe) return all;
  for (const auto& problem : recipe.error()) all += config::to_string(problem) + '\n';
  return all;
}

/// What became of one file.
struct Corrected {
  std::string failure;
  std::string text;   ///< of the output
  std::string record; ///< beside it
  logfile::Summary summary;
  std::vector<std::string> lines() const {
    std::vector<std::string> all;
    std::istringstream in{text};
    for (std::string line; std::getline(in, line);) all.push_back(line);
    return all;
  }
};

/// Corrects files in a directory of its own.
class Workshop {
public:
  /// `second` becomes the file "second.csv".
  Corrected correct(const std::string& input, const std::string& recipe_text, const std::string& second = "") {
    if (!second.empty()) static_cast<void>(directory_.file("second.csv", second));
    const auto recipe = logfile::parse_recipe(recipe_text, "test.recipe.toml", directory_.path());
    if (!recipe) return {.failure = problems_of(recipe), .text = {}, .record = {}, .summary = {}};
    return run(*recipe, {.input = directory_.file("in.csv", input),
                         .output = out(),
                         .force = true,
                         .record = out() + ".record.json",
                         .now = WallTime{std::chrono::milliseconds{1'772'431'500'000}},
                         .version = "0",
                         .progress = {}});
  }
  Corrected run(const logfile::Recipe& recipe, const logfile::Correction& correction) {
    const auto summary = logfile::correct_file(recipe, correction);
    if (!summary) return {.failure = summary.error().what, .text = {}, .record = {}, .summary = {}};
    return {.failure = {}, .text = text_of_file(out()), .record = text_of_file(correction.record), .summary = *summary};
  }
  [[nodiscard]] std::string out() const { return (directory_.path() / "out.csv").string(); }
  [[nodiscard]] const cli_test::TemporaryDirectory& directory() const { return directory_; }

private:
  cli_test::TemporaryDirectory directory_;
};

/// Corrects one file that is expected to go well.
inline Corrected correct(const std::string& input, const std::string& recipe, const std::string& second = "") {
  auto done = Workshop{}.correct(input, recipe, second);
  EXPECT_EQ(done.failure, "");
  return done;
}

/// Fields of a line without quotes.
inline std::vector<std::string> fields_of(const std::string& line, char delimiter = ',') {
  std::vector<std::string> fields{""};
  for (const char c : line)
    if (c == delimiter)
      fields.emplace_back();
    else
      fields.back() += c;
  return fields;
}

} // namespace oxherd::daemon::logfile_test
