#include <algorithm>

#include <fmt/core.h>

#include "alarms/texts.hpp"
#include "config/load.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/check_summary.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/profile_dirs.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> check_options() {
  return {{"--config", "FILE", "the file to check (default: /etc/oxherd/oxherd.toml)", "/etc/oxherd/oxherd.toml"},
          json_option("print one line of JSON")};
}

std::string problems_json(const std::vector<config::Problem>& problems) {
  std::vector<std::string> out;
  for (const auto& problem : problems)
    out.push_back(JsonObject{}
                      .text("severity", problem.severity == config::Severity::error ? "error" : "warning")
                      .text("file", problem.file)
                      .integer("line", problem.line)
                      .integer("column", problem.column)
                      .text("key", problem.key)
                      .text("message", problem.message)
                      .str());
  return json_array(out);
}

std::string verdict_on(const std::string& file, const std::vector<config::Problem>& problems) {
  const auto errors =
      static_cast<std::size_t>(std::ranges::count(problems, config::Severity::error, &config::Problem::severity));
  const auto warnings = problems.size() - errors;
  if (problems.empty()) return fmt::format("{}: no problems\n", printable(file));
  if (warnings == 0) return fmt::format("{}: {}\n", printable(file), counted(errors, "error"));
  if (errors == 0) return fmt::format("{}: {}, no errors\n", printable(file), counted(warnings, "warning"));
  return fmt::format("{}: {}, {}\n", printable(file), counted(errors, "error"), counted(warnings, "warning"));
}

int run_check(const Arguments& arguments, Console& console) {
  const auto file = arguments.value_or("--config", "/etc/oxherd/oxherd.toml");
  const auto loaded = config::load(file, profile_dirs());
  const auto& problems = loaded ? loaded->warnings : loaded.error();
  const int exit = loaded ? fine : failed;
  if (arguments.given("--json")) {
    console.out << JsonObject{}
                       .flag("ok", loaded.has_value())
                       .text("file", file)
                       .json("problems", problems_json(problems))
                       .json("rooms", loaded ? summary_json(loaded->settings) : "[]")
                       .text("caution", alarms::caution_short())
                       .str()
                << '\n';
    return exit;
  }
  // Findings are what was asked for: they go to standard output, so that they can be piped and counted.
  for (const auto& problem : problems) console.out << printable(config::to_string(problem)) << '\n';
  console.out << verdict_on(file, problems);
  if (loaded)
    console.out << '\n' << summary_text(loaded->settings) << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return exit;
}

} // namespace

const Command check_entry{
    "check",
    "validates the settings file and prints every problem in it",
    "Reads the whole file and prints every problem with its line and column. For a file without "
    "errors it also lists rooms, sensors and alarms, and how long each alarm may take from gas at "
    "the cell to its announcement. Needs no daemon.",
    "",
    "oxherd check --config /etc/oxherd/oxherd.toml\n"
    "oxherd check --config larkfield.toml --json",
    check_options,
    run_check};

} // namespace oxherd::daemon::cli
