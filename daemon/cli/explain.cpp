#include <algorithm>

#include <fmt/core.h>

#include "daemon/cli/command.hpp"
#include "daemon/cli/explain_inputs.hpp"
#include "daemon/cli/explain_options.hpp"
#include "daemon/cli/explain_stored.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/wording.hpp"

namespace oxherd::daemon::cli {
namespace {

void print_explanation(const Arguments& arguments, Console& console, const Explanation& explained) {
  if (arguments.given("--json"))
    console.out << explain_json(explained) << '\n';
  else
    console.out << explain_text(explained);
}

int explain_typed(const Arguments& arguments, Console& console) {
  const auto explained = typed_explanation(arguments);
  if (explained) {
    print_explanation(arguments, console, *explained);
    return fine;
  }
  for (const auto& problem : explained.error().problems)
    console.err << fmt::format("oxherd explain: {}\n", printable(problem));
  return explained.error().exit;
}

int explain_stored(const Arguments& arguments, Console& console) {
  const auto question = read_stored_question(arguments);
  if (!question) return report(console, "explain", {usage, question.error()});
  std::string note;
  auto recorded = fetch_recorded(*question, state_dir_of(arguments), note);
  if (!recorded) return report(console, "explain", recorded.error());
  if (!note.empty()) console.err << fmt::format("oxherd explain: {}\n", note);
  const auto explained = explanation_of(std::move(*recorded));
  if (!explained.stored->every_digit_agrees())
    console.err << "oxherd explain: THE RECORDED VALUES DIFFER from what their inputs give; see the report\n";
  print_explanation(arguments, console, explained);
  return explained.stored->every_digit_agrees() ? fine : failed;
}

int run_explain(const Arguments& arguments, Console& console) {
  const bool stored =
      std::ranges::any_of(stored_options(), [&](std::string_view option) { return arguments.given(option); });
  return stored ? explain_stored(arguments, console) : explain_typed(arguments, console);
}

} // namespace

const Command explain_entry{
    "explain",
    "one reading, recorded or typed, step by step, with its uncertainty",
    "Turns the signal of one oxygen cell into oxygen, and shows every step on the way: the conditions, the station "
    "pressure and how it was obtained, what temperature, pressure and humidity each contribute, and where the "
    "uncertainty comes from. With --room and --sensor it takes a recorded reading, forms it anew from what was "
    "recorded "
    "with it, and says whether every digit agrees; when no daemon runs it reads the files. Else it takes the values "
    "you "
    "type, and needs no daemon. Values carry their units: °C, °F or K; kPa, hPa, mbar, mmHg, inHg or psi; m or ft; % "
    "or ppm; mV or V.",
    "",
    "oxherd explain --room cryo-annexe --sensor cell-a --at 2026-03-01T08:00:00+01:00\n"
    "oxherd explain --zero 0.4mV --cal-signal 12.6mV --cal-temperature 21C --cal-humidity 45% --cal-pressure 99.8kPa "
    "--signal 11.9mV --temperature 54F --humidity 88% --elevation 212m\n"
    "oxherd explain --zero 0.4mV --cal-signal 12.6mV --cal-temperature 21C --cal-humidity 45% --cal-pressure 99.8kPa "
    "--signal 11.9mV --temperature 12C --humidity 88% --pressure 98.6kPa --u-pressure 0.05kPa --cal-age 40d --json",
    explain_options,
    run_explain};

} // namespace oxherd::daemon::cli
