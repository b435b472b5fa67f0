#include <algorithm>
#include <chrono>
#include <filesystem>
#include <thread>

#include <fmt/core.h>
#include <unistd.h>

#include "alarms/texts.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/interrupt_guard.hpp"
#include "daemon/cli/profile_dirs.hpp"
#include "daemon/cli/progress_line.hpp"
#include "daemon/cli/scan_case.hpp"
#include "daemon/cli/scan_text.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/clock.hpp"
#include "daemon/commission/profile_text.hpp"
#include "daemon/logfile/output_file.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

using std::chrono::milliseconds;
using std::chrono::steady_clock;

/// Searches that may last longer are announced, so that nobody takes them for a hang.
constexpr milliseconds worth_announcing{5000};

int refuse_scan(Console& console, std::string_view what, int code) {
  console.err << fmt::format("oxherd scan: {}\n", printable(what));
  return code;
}

void wait_or_be_interrupted(milliseconds time) {
  const auto end = steady_clock::now() + time;
  while (steady_clock::now() < end && !InterruptGuard::interrupted())
    std::this_thread::sleep_for(std::min(milliseconds{50}, std::chrono::ceil<milliseconds>(end - steady_clock::now())));
}

tl::expected<commission::Survey, std::string> ask_the_bus(const ScanCase& wanted, Console& console) {
  const bool serial = std::holds_alternative<drivers::SerialLine>(wanted.bus);
  const auto longest = commission::longest_search(wanted.plan, serial);
  if (longest > worth_announcing)
    console.err << fmt::format("asking {} for {}; up to {} when none of them answers (Ctrl-C ends it)\n",
                               printable(wanted.bus_word),
                               counted(static_cast<std::size_t>(commission::count_of(wanted.plan.units)), "unit"),
                               duration_text(static_cast<double>(longest.count()) / 1e3))
                << std::flush;
  ProgressLine line{console.err, isatty(STDERR_FILENO) == 1};
  const auto bus = drivers::make_bus(wanted.bus);
  const commission::SurveyHooks hooks{.go_on =
                                          [&](const commission::SurveyProgress& progress) {
                                            line.show_text(
                                                fmt::format("{} ({:.0f} %)", progress.what, progress.part * 100.0));
                                            return !InterruptGuard::interrupted();
                                          },
                                      .wait = wait_or_be_interrupted};
  auto surveyed = commission::survey(*bus, wanted.plan, hooks);
  line.clear();
  return surveyed;
}

/// The register map of the unit that was asked for; the exit code when that goes wrong.
int write_profile(const ScanCase& wanted, const ScanResult& result, Console& console) {
  const auto found =
      std::ranges::find(result.units, wanted.profile_of, [](const ScannedUnit& unit) { return unit.seen.unit; });
  if (found == result.units.end())
    return refuse_scan(console, fmt::format("unit {} did not answer: no profile was written", wanted.profile_of),
                       failed);
  if (found->findings.empty())
    return refuse_scan(console,
                       fmt::format("nothing in unit {} looks like a measurement: no profile was written; --registers "
                                   "looks at other addresses",
                                   wanted.profile_of),
                       failed);
  const auto text = commission::profile_text(found->findings,
                                             {result.bus, wanted.profile_of, rfc3339_local(wall_now()).substr(0, 10)});
  auto file = logfile::OutputFile::create(*wanted.profile, wanted.force);
  if (!file) return refuse_scan(console, file.error().what, failed);
  auto done = (*file)->write(text);
  if (done) done = (*file)->finish();
  if (!done) return refuse_scan(console, done.error().what, failed);
  const auto name = std::filesystem::path{*wanted.profile}.stem().string();
  console.err << fmt::format(
      "wrote {}. Confirm each line in the device's manual. With the file in profiles/ beside the "
      "settings file, a sensor uses it by profile = \"{}\"\n",
      printable(*wanted.profile), name);
  return fine;
}

std::string nobody_answered(const ScanCase& wanted, const commission::Survey& survey) {
  const bool serial = std::holds_alternative<drivers::SerialLine>(wanted.bus);
  const auto who = survey.asked == 1 ? fmt::format("unit {} did not answer", wanted.plan.units.front().first)
                                     : fmt::format("none of {} units answered", survey.asked);
  return fmt::format("{} on {} within {} ms: {}", who, wanted.bus_word, wanted.plan.timeout.count(),
                     serial ? "look at the wiring (A and B), --baud and --parity, or give --timeout 1s"
                            : "the server takes connections, so look at the line behind the gateway, at the gateway's "
                              "own settings, or give --timeout 2s when the gateway itself waits longer");
}

int run_scan(const Arguments& arguments, Console& console) {
  const auto wanted = read_scan_case(arguments);
  if (!wanted) return refuse_scan(console, wanted.error(), usage);
  const InterruptGuard guard;
  const auto begun = steady_clock::now();
  auto surveyed = ask_the_bus(*wanted, console);
  if (!surveyed) return refuse_scan(console, surveyed.error(), failed);
  ScanResult result{wanted->bus_word, *std::move(surveyed), {}, 0.0};
  config::ProfileShelf shelf{profile_dirs()};
  for (auto& seen : result.survey.units) {
    auto findings = commission::guess_values(seen.runs, wanted->hints);
    auto profile = commission::profile_that_fits(shelf, findings);
    result.units.push_back({std::move(seen), std::move(findings), std::move(profile)});
  }
  result.seconds = std::chrono::duration<double>(steady_clock::now() - begun).count();
  if (arguments.given("--json"))
    console.out << scan_json(result) << '\n';
  else {
    for (const auto& unit : result.units) console.out << scanned_unit_text(unit) << '\n';
    for (const auto& note : result.survey.notes) console.out << "note: " << wrapped(printable(note), 110, 6) << '\n';
    if (!result.units.empty())
      console.out << wrapped(fmt::format(
                                 "{} of {} asked answered; {}. All of these are guesses: the device's manual must "
                                 "confirm each. {}",
                                 result.units.size(), counted(static_cast<std::size_t>(result.survey.asked), "unit"),
                                 duration_text(result.seconds), alarms::caution_short()),
                             110, 0)
                  << '\n';
  }
  if (result.survey.cut_short)
    return refuse_scan(console, "interrupted: what was found until then stands above; no profile was written",
                       cut_short);
  if (result.units.empty()) return refuse_scan(console, nobody_answered(*wanted, result.survey), failed);
  return wanted->profile ? write_profile(*wanted, result, console) : fine;
}

} // namespace

const Command scan_entry{
    "scan",
    "finds the devices on a bus and guesses what their registers hold",
    "Asks every unit of a Modbus bus for a sign of life, finds the registers that it has, watches them for some "
    "seconds "
    "and shows what each would read as in every plausible type, scale and word order, with the reason. It only ever "
    "reads (functions 01 to 04) and changes nothing. A guess is a guess: the device's manual must confirm it. A serial "
    "line has one master: stop the daemon before its line is scanned. A TCP server or gateway may be scanned beside "
    "the "
    "daemon where it serves several clients; readings may come late meanwhile.",
    "BUS",
    "oxherd scan tcp://192.0.2.10:502\n"
    "oxherd scan tcp://192.0.2.10 --units 1-40 --elevation 212m\n"
    "oxherd scan /dev/ttyUSB0 --baud 9600 --parity none --units 1-20\n"
    "oxherd scan tcp://192.0.2.10 --units 21 --expect temperature,humidity,pressure --write-profile "
    "profiles/annexe-probe.toml",
    scan_options,
    run_scan};

} // namespace oxherd::daemon::cli
