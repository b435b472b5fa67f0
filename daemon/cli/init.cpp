#include <algorithm>
#include <array>
#include <filesystem>
#include <iostream>

#include <fmt/core.h>
#include <unistd.h>

#include "alarms/texts.hpp"
#include "config/document.hpp"
#include "config/load.hpp"
#include "config/nearest.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/init_surroundings.hpp"
#include "daemon/cli/interrupt_guard.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/commission/questions.hpp"
#include "daemon/commission/settings_text.hpp"
#include "daemon/logfile/output_file.hpp"

namespace oxherd::daemon::cli {
namespace {

using commission::Answers;
using commission::Question;
using commission::Surroundings;

constexpr std::string_view usual_settings = "/etc/oxherd/oxherd.toml";

std::vector<Option> init_options() {
  return {
      {"--answers", "FILE", "take the answers from a file, and defaults for the others; asks nothing", "answers.toml"},
      {"--questions", "", "print a file of answers to fill in, with every question and its default", ""},
      {"--force", "", "replace FILE when it exists", ""}};
}

int refuse_init(Console& console, std::string_view what, int code = failed) {
  console.err << fmt::format("oxherd init: {}\n", printable(what));
  return code;
}

/// Asks until the answer can be taken. Empty when nobody answers any more.
std::optional<std::string> ask_person(const Question& question, const Answers& before, const Surroundings& around,
                                      Console& console) {
  const auto otherwise = question.otherwise(before, around);
  console.err << '\n' << wrapped(fmt::format("{}, such as {}", question.asks, question.example), 100, 0) << '\n';
  console.err << "  "
              << wrapped(otherwise.text ? fmt::format("Enter takes {} ({})", *otherwise.text, otherwise.origin)
                                        : fmt::format("no default ({})", otherwise.origin),
                         100, 2)
              << '\n';
  for (;;) {
    console.err << fmt::format("{}: ", question.key) << std::flush;
    std::string line;
    if (!InterruptGuard::read_line(line)) return std::nullopt;
    const auto first = line.find_first_not_of(" \t\r");
    line = first == line.npos ? "" : line.substr(first, line.find_last_not_of(" \t\r") + 1 - first);
    if (line.empty() && otherwise.text) line = *otherwise.text;
    if (line.empty()) {
      console.err << fmt::format("  This needs an answer, such as {}\n", question.example);
      continue;
    }
    const auto refusal = commission::why_not(question, line, before, around);
    if (!refusal) return line;
    console.err << "  " << wrapped(printable(*refusal), 100, 2) << '\n';
  }
}

/// Asks for everything; empty when the person left.
std::optional<Answers> interview(const Surroundings& around, Console& console) {
  Answers answers;
  while (const Question* question = commission::next_question(answers)) {
    const auto answer = ask_person(*question, answers, around, console);
    if (!answer) return std::nullopt;
    commission::take(*question, *answer, around, answers);
  }
  return answers;
}

/// The answers in a file, by key. What is wrong in it is printed.
std::optional<Answers> answers_in(const std::string& file, Console& console) {
  config::Problems problems{file};
  Answers typed;
  std::vector<std::string> keys;
  for (const auto& question : commission::questions()) keys.emplace_back(question.key);
  const auto text = config::read_text(file, problems);
  const auto table = text ? config::read_document(*text, problems) : std::nullopt;
  for (const auto& entry : table ? table->entries : std::vector<config::Entry>{}) {
    const auto* word = std::get_if<std::string>(&entry.value.value);
    const auto* number = std::get_if<std::int64_t>(&entry.value.value);
    if (std::ranges::find(keys, entry.key) == keys.end()) {
      const auto meant = config::nearest(entry.key, keys);
      problems.error(entry.at, entry.key,
                     meant ? fmt::format("is no question; did you mean {}?", *meant)
                           : std::string{"is no question; oxherd init --questions lists them"});
    } else if (word == nullptr && number == nullptr)
      problems.error(entry.at, entry.key,
                     fmt::format("{} is no answer; write it in quotes", config::shown(entry.value)));
    else
      typed.insert_or_assign(entry.key, word != nullptr ? *word : fmt::format("{}", *number));
  }
  for (const auto& problem : problems.sorted()) console.err << printable(config::to_string(problem)) << '\n';
  return problems.has_errors() ? std::nullopt : std::optional{typed};
}

/// Takes the typed answers and the defaults; every refusal is printed, not only the first.
std::optional<Answers> settle_answers(const Answers& typed, const Surroundings& around, Console& console) {
  Answers answers;
  bool sound = true;
  while (const Question* question = commission::next_question(answers)) {
    const auto given = typed.find(question->key);
    const auto otherwise = question->otherwise(answers, around);
    const bool said = given != typed.end() && !given->second.empty();
    const auto answer = said ? std::optional{given->second} : otherwise.text;
    std::optional<std::string> refusal;
    if (!answer)
      refusal =
          fmt::format("needs an answer, such as {} = {}", question->key, commission::toml_string(question->example));
    else
      refusal = commission::why_not(*question, *answer, answers, around);
    if (refusal) {
      console.err << fmt::format("oxherd init: {}: {}\n", question->key, printable(*refusal));
      sound = false;
    }
    // An example stands in for what was refused, so that the others can still be judged.
    commission::take(*question, refusal ? std::string{question->example} : *answer, around, answers);
  }
  for (const auto& [key, value] : typed)
    if (!answers.contains(key))
      console.err << fmt::format("oxherd init: {} is not used: with the other answers nothing asks for it\n", key);
  return sound ? std::optional{answers} : std::nullopt;
}

/// Writes the file when it is without errors, and says what comes next.
int write_settings(const std::string& file, const Answers& answers, const Surroundings& around, bool force,
                   Console& console) {
  const auto text = commission::settings_text(answers, around);
  const auto loaded = config::parse(text, file, around.profile_dirs);
  if (!loaded) {
    for (const auto& problem : loaded.error()) console.err << printable(config::to_string(problem)) << '\n';
    return refuse_init(console, "these answers make no sound settings file; nothing was written");
  }
  auto output = logfile::OutputFile::create(file, force);
  if (!output) return refuse_init(console, output.error().what);
  auto done = (*output)->write(text);
  if (done) done = (*output)->finish();
  if (!done) return refuse_init(console, done.error().what);
  for (const auto& problem : loaded->warnings) console.err << printable(config::to_string(problem)) << '\n';
  console.out << fmt::format("wrote {}\n", printable(file));
  console.out << wrapped(fmt::format("Next: read it, change what your room needs, then oxherd check --config {0} and "
                                     "oxherd run --config {0}.{1}",
                                     printable(file),
                                     commission::is_none(commission::answer_to(answers, "calibration_signal")) &&
                                             commission::gives_signal(answers)
                                         ? fmt::format(" The cell is not calibrated: oxherd calibrate {}/cell does it.",
                                                       commission::answer_to(answers, "room"))
                                         : ""),
                         100, 0)
              << "\n\n"
              << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

int run_init(const Arguments& arguments, Console& console) {
  if (arguments.positional().size() > 1)
    return refuse_init(console, "name one settings file to write, or none for /etc/oxherd/oxherd.toml", usage);
  const std::string file{arguments.positional().empty() ? std::string{usual_settings} : arguments.positional().front()};
  const auto around = surroundings_of(file);
  if (arguments.given("--questions")) {
    console.out << commission::answers_form(around);
    return fine;
  }
  const bool force = arguments.given("--force");
  std::error_code ignored;
  // Said before anybody answers twenty questions.
  if (!force && std::filesystem::exists(file, ignored))
    return refuse_init(console, fmt::format("{}: exists already; --force replaces it", file));
  const auto folder = std::filesystem::absolute(file, ignored).parent_path();
  if (!std::filesystem::is_directory(folder, ignored))
    return refuse_init(console, fmt::format("there is no directory {}; make it first", folder.string()));
  if (::access(folder.c_str(), W_OK) != 0)
    return refuse_init(console, fmt::format("{} cannot be written to by this user", folder.string()));
  std::optional<Answers> answers;
  if (const auto from = arguments.value("--answers")) {
    const auto typed = answers_in(*from, console);
    if (typed) answers = settle_answers(*typed, around, console);
    if (!answers) return refuse_init(console, "nothing was written");
  } else if (isatty(STDIN_FILENO) != 1) {
    return refuse_init(console,
                       "standard input is no terminal, so nobody can be asked: oxherd init --questions > answers.toml, "
                       "fill it in, and give it with --answers answers.toml",
                       usage);
  } else {
    const InterruptGuard guard;
    console.err << fmt::format("Questions for {}. Ctrl-C leaves without writing anything.\n", printable(file));
    answers = interview(around, console);
    if (!answers) {
      console.err << '\n';
      return refuse_init(console, "left before the last question: nothing was written");
    }
    console.err << '\n';
  }
  return write_settings(file, *answers, around, force, console);
}

} // namespace

const Command init_entry{
    "init",
    "writes a settings file for a new site by asking",
    "Asks for the site, its bus, one room with its oxygen sensor, probes, relay, broker and page. Every answer is "
    "checked "
    "at once as the daemon would check it; defaults are shown with where they come from. Writes a settings file with "
    "comments that passes oxherd check: for more rooms and everything else, edit it. Register maps that oxherd scan "
    "wrote into profiles/ beside the file are offered. Needs no daemon.",
    "[FILE]",
    "oxherd init\n"
    "oxherd init larkfield.toml\n"
    "oxherd init --questions > answers.toml\n"
    "oxherd init larkfield.toml --answers answers.toml",
    init_options,
    run_init};

} // namespace oxherd::daemon::cli
