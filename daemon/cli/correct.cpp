#include <algorithm>
#include <chrono>

#include <fmt/core.h>
#include <unistd.h>

#include "alarms/texts.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/interrupt_guard.hpp"
#include "daemon/cli/progress_line.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/clock.hpp"
#include "daemon/logfile/correct_file.hpp"
#include "daemon/logfile/draft.hpp"
#include "daemon/version.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> correct_options() {
  return {
      {"-o", "OUT.csv", "the corrected file; - is standard output", "corrected.csv"},
      {"--recipe", "FILE", "columns, cell and calibration of this kind of logger file", "growth-chamber-1.recipe.toml"},
      {"--draft", "", "print a recipe to begin with for IN.csv, each guess with its reason; corrects nothing", ""},
      {"--force", "", "replace OUT.csv and its record when they exist", ""},
      {"--json", "", "print the summary as one line of JSON", ""}};
}

int refuse_correction(Console& console, std::string_view what, int code) {
  console.err << fmt::format("oxherd correct: {}\n", what);
  return code;
}

/// Each line by itself: names of files and columns must not break out of it.
void print_lines(std::ostream& to, std::string_view start, std::string_view text) {
  while (!text.empty()) {
    const auto end = std::min(text.find('\n'), text.size());
    to << start << printable(text.substr(0, end)) << '\n';
    text.remove_prefix(std::min(end + 1, text.size()));
  }
}

/// The summary goes to standard output, unless the corrected rows do.
void print_summary(const Arguments& arguments, Console& console, const logfile::Summary& summary) {
  const bool as_json = arguments.given("--json");
  auto& to = as_json && summary.output != "-" ? console.out : console.err;
  if (as_json) {
    to << logfile::summary_json(summary) << '\n';
    return;
  }
  print_lines(to, "", logfile::summary_text(summary));
  to << wrapped(alarms::caution_short(), 100, 0) << '\n';
}

/// The recipe goes to standard output, to be kept in a file and filled in there.
int print_draft(const Arguments& arguments, Console& console) {
  for (const std::string_view other : {"-o", "--recipe", "--force", "--json"})
    if (arguments.given(other))
      return refuse_correction(
          console, fmt::format("--draft only prints a recipe, to standard output; leave out {}", other), usage);
  const auto recipe = logfile::draft_recipe_for(arguments.positional().front());
  if (!recipe) {
    print_lines(console.err, "oxherd correct: ", recipe.error().what);
    return failed;
  }
  print_lines(console.out, "", *recipe);
  return fine;
}

int run_correct(const Arguments& arguments, Console& console) {
  if (arguments.positional().size() != 1)
    return refuse_correction(console, "name one file to correct; --help shows the form", usage);
  if (arguments.given("--draft")) return print_draft(arguments, console);
  const auto output = arguments.value("-o");
  const auto recipe_file = arguments.value("--recipe");
  if (!output) return refuse_correction(console, "-o is missing: name the file that is to be written", usage);
  if (!recipe_file)
    return refuse_correction(
        console, "--recipe is missing: it says what the columns mean; --draft prints one to begin with", usage);
  const auto recipe = logfile::load_recipe(*recipe_file);
  if (!recipe) {
    for (const auto& problem : recipe.error()) console.err << printable(config::to_string(problem)) << '\n';
    return failed;
  }
  const InterruptGuard guard;
  ProgressLine line{console.err, isatty(STDERR_FILENO) == 1};
  const logfile::Correction correction{.input = arguments.positional().front(),
                                       .output = *output,
                                       .force = arguments.given("--force"),
                                       .record = *output == "-" ? "" : *output + ".record.json",
                                       .now = wall_now(),
                                       .version = version,
                                       .progress = [&line](const logfile::Progress& progress) {
                                         line.show(progress.bytes, progress.total);
                                         return !InterruptGuard::interrupted();
                                       }};
  console.out.flush();
  const auto summary = logfile::correct_file(*recipe, correction);
  line.clear();
  if (!summary) {
    print_lines(console.err, "oxherd correct: ", summary.error().what);
    return failed;
  }
  print_summary(arguments, console, *summary);
  return summary->bad == 0 ? fine : marked;
}

} // namespace

const Command correct_entry{
    "correct",
    "corrects the oxygen in a logger file of any size",
    "Reads the rows of a logger file, corrects the signal of its oxygen cell for temperature, humidity and pressure, "
    "and writes every row, byte for byte as it was, with the corrected oxygen, its standard uncertainty, a quality "
    "word and a remark behind it. A row that cannot be corrected is kept and marked, never dropped; then the exit code "
    "is 5. The recipe says which columns hold what, in which units, and carries the cell and its calibration as in the "
    "settings file; --draft prints one to begin with. The signal is that of the cell in millivolts, or the oxygen that "
    "a "
    "transmitter indicates without correcting it. What was done is recorded in OUT.csv.record.json. Needs no daemon.",
    "IN.csv",
    "oxherd correct demo/growth-chamber-1.csv -o corrected.csv --recipe demo/growth-chamber-1.recipe.toml\n"
    "oxherd correct demo/growth-chamber-1.csv --draft\n"
    "oxherd correct - -o - --recipe demo/growth-chamber-1.recipe.toml --json",
    correct_options,
    run_correct};

} // namespace oxherd::daemon::cli
