#include <fmt/core.h>

#include "compensation/oxygen_reading.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/explain_inputs.hpp"
#include "daemon/cli/explain_options.hpp"
#include "daemon/cli/explain_report.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

int run_explain(const Arguments& arguments, Console& console) {
  const auto typed = read_explain_case(arguments);
  if (!typed) {
    for (const auto& problem : typed.error()) console.err << fmt::format("oxherd explain: {}\n", printable(problem));
    return usage;
  }
  const auto reading = compensation::read_oxygen(typed->cell, typed->calibration, typed->signal, typed->now.gas);
  if (!reading) {
    console.err << fmt::format("oxherd explain: {}\n", reading.error().what);
    return failed;
  }
  if (arguments.given("--json"))
    console.out << explain_json(*typed, *reading) << '\n';
  else
    console.out << explain_text(*typed, *reading);
  return fine;
}

} // namespace

const Command explain_entry{
    "explain",
    "one reading from values you type, step by step, with its uncertainty",
    "Turns the signal of one oxygen cell into oxygen, and shows every step on the way: the conditions, the station "
    "pressure and how it was obtained, what temperature, pressure and humidity each contribute, and where the "
    "uncertainty comes from. Values carry their units: °C, °F or K; kPa, hPa, mbar, mmHg, inHg or psi; m or ft; % or "
    "ppm; mV or V. Needs no daemon.",
    "",
    "oxherd explain --zero 0.4mV --cal-signal 12.6mV --cal-temperature 21C --cal-humidity 45% --cal-pressure 99.8kPa "
    "--signal 11.9mV --temperature 54F --humidity 88% --elevation 212m\n"
    "oxherd explain --zero 0.4mV --cal-signal 12.6mV --cal-temperature 21C --cal-humidity 45% --cal-pressure 99.8kPa "
    "--signal 11.9mV --temperature 12C --humidity 88% --pressure 98.6kPa --u-pressure 0.05kPa --json",
    explain_options,
    run_explain};

} // namespace oxherd::daemon::cli
