#include <chrono>
#include <iostream>
#include <thread>

#include <fmt/core.h>
#include <nlohmann/json.hpp>
#include <unistd.h>

#include "alarms/texts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/calibrate_inputs.hpp"
#include "daemon/cli/calibrate_text.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/interrupt_guard.hpp"
#include "daemon/cli/login.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;
using Answer = tl::expected<json, AnswerError>;

/// Between two looks at the signal.
constexpr std::chrono::seconds look_period{1};
/// Where no terminal shows a line that changes, a line is printed this often.
constexpr double line_period_s = 10.0;

/// One run of the procedure against the daemon.
class Procedure {
public:
  Procedure(const CalibrateCase& wanted, std::filesystem::path state_dir, Console& console)
      : wanted_{wanted}, state_dir_{std::move(state_dir)}, console_{console}, terminal_{isatty(STDERR_FILENO) == 1} {}

  Answer step(const char* name, json more = json::object()) {
    more["command"] = "calibrate";
    more["step"] = name;
    more["room"] = wanted_.room;
    more["sensor"] = wanted_.sensor;
    more["author"] = wanted_.author;
    more["act"] = wanted_.act;
    more["reason"] = wanted_.reason;
    return ask(state_dir_, more);
  }

  /// Opens the session, takes every point, and leaves the session open for finish.
  Answer measure() {
    auto seen = step("begin");
    if (!seen) return seen;
    for (std::size_t i = 0; i < wanted_.gases.size(); ++i) {
      const auto& gas = wanted_.gases[i];
      if (wanted_.entered) {
        seen = step("enter", gas.step);
        if (!seen) return seen;
        continue;
      }
      if (auto ready = bring(gas, i); !ready) return ready;
      if (wanted_.act == "bump-test") return watch_bump();
      seen = wait_until_stable();
      if (!seen) return seen;
      seen = step("take", gas.step);
      if (!seen) return seen;
      say(fmt::format("point taken in {}", gas.kind));
    }
    return seen;
  }

private:
  /// Tells the person which gas to bring; what was seen before it came counts no more.
  Answer bring(const CalibrationGas& gas, std::size_t index) {
    if (gas.kind == "fresh-air" && index == 0) return step("look");
    say(fmt::format("Put {} on {}/{} (0.3 to 0.5 L/min, open exhaust), then press Enter.", gas.kind, wanted_.room,
                    wanted_.sensor));
    if (auto said = wait_for_enter(); !said) return tl::unexpected(said.error());
    return step("another", gas.step);
  }

  /// Without an answer nobody knows which gas is on the cell: what it shows then must not be taken for that gas.
  static tl::expected<void, AnswerError> wait_for_enter() {
    std::string line;
    const bool said = InterruptGuard::read_line(line);
    if (InterruptGuard::interrupted())
      return tl::unexpected(AnswerError{failed, "interrupted: cancelled, nothing was recorded"});
    if (!said)
      return tl::unexpected(AnswerError{failed, "nobody answered on standard input, so nothing says that the gas is on "
                                                "the cell: cancelled, nothing was recorded"});
    return {};
  }

  Answer watch_bump() {
    say("Gas the cell and watch the alarm act: horn, beacon, relay. Press Enter when you have seen it.");
    if (auto said = wait_for_enter(); !said) return tl::unexpected(said.error());
    return step("look");
  }

  Answer wait_until_stable() {
    double next_line_s = 0.0;
    for (;;) {
      auto seen = step("look");
      if (!seen) return seen;
      const double seconds = number_of(*seen, "seconds").value_or(0.0);
      if (terminal_)
        console_.err << "\r\x1b[K" << live_line(*seen) << std::flush;
      else if (seconds >= next_line_s) {
        console_.err << live_line(*seen) << '\n' << std::flush;
        next_line_s = seconds + line_period_s;
      }
      if (is_true(*seen, "stable")) {
        if (terminal_) console_.err << '\n';
        return seen;
      }
      if (InterruptGuard::interrupted())
        return tl::unexpected(AnswerError{failed, "interrupted: cancelled, nothing was recorded"});
      if (seconds > wanted_.give_up_s)
        return tl::unexpected(AnswerError{refused, fmt::format("the signal was not stable within {}: {}",
                                                               duration_text(seconds), waiting_text(*seen))});
      std::this_thread::sleep_for(look_period);
    }
  }
  void say(const std::string& text) { console_.err << text << '\n' << std::flush; }

  const CalibrateCase& wanted_;
  const std::filesystem::path state_dir_;
  Console& console_;
  const bool terminal_;
};

bool confirmed(Console& console, std::string_view question) {
  console.err << question << " [y/N] " << std::flush;
  std::string line;
  std::getline(std::cin, line);
  return line == "y" || line == "Y" || line == "yes";
}

int give_result(const Arguments& arguments, const json& result, const std::string& text, Console& console) {
  if (arguments.given("--json"))
    console.out << json_text_of(result);
  else
    console.out << text << '\n' << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

/// Shows what would be recorded, asks, records.
int conclude(const Arguments& arguments, const CalibrateCase& wanted, Procedure& procedure, const char* step,
             const json& more, Console& console) {
  json dry = more;
  dry["dry_run"] = true;
  const auto proposal = procedure.step(step, dry);
  if (!proposal) return report(console, "calibrate", proposal.error());
  const std::string shown = proposal_text(*proposal);
  if (wanted.dry_run) return give_result(arguments, *proposal, shown + "\nDry run: nothing was recorded.\n", console);
  console.err << shown << '\n';
  if (!is_true(*proposal, "permitted"))
    return report(console, "calibrate", {refused, "not recorded: see what speaks against it above"});
  if (!wanted.yes && !confirmed(console, "Record this?"))
    return report(console, "calibrate", {refused, "not recorded"});
  auto stored = procedure.step(step, more);
  // What was measured is still there: a full disk must not cost the gas and the wait once more.
  while (!stored && stored.error().kind == "internal" && !wanted.yes) {
    static_cast<void>(report(console, "calibrate", stored.error()));
    if (!confirmed(console, "Record it again?")) return failed;
    stored = procedure.step(step, more);
  }
  if (!stored) return report(console, "calibrate", stored.error());
  return give_result(arguments, *stored, stored_text(*stored), console);
}

int run_calibrate(const Arguments& arguments, Console& console) {
  const auto wanted = read_calibrate_case(arguments, login_name());
  if (!wanted) {
    for (const auto& problem : wanted.error()) console.err << fmt::format("oxherd calibrate: {}\n", printable(problem));
    return usage;
  }
  Procedure procedure{*wanted, state_dir_of(arguments), console};
  json more = json::object();
  if (wanted->withdrawn) {
    more["number"] = *wanted->withdrawn;
    return conclude(arguments, *wanted, procedure, "withdraw", more, console);
  }
  if (wanted->supersedes) more["number"] = *wanted->supersedes;
  const InterruptGuard guard; // Ctrl-C cancels at the daemon instead of leaving the cell in function check
  const auto measured = procedure.measure();
  int exit = fine;
  if (!measured)
    exit = report(console, "calibrate", measured.error());
  else
    exit = conclude(arguments, *wanted, procedure, "finish", more, console);
  // A session that was never opened, or that is over, has nothing to cancel: that answer is of no interest.
  static_cast<void>(procedure.step("cancel"));
  return exit;
}

} // namespace

const Command calibrate_entry{
    "calibrate",
    "calibrates a cell, checks it against a gas, or bump tests it",
    "Shows the live signal of a cell, waits until it is shown to be stable, takes the conditions from the room's "
    "probes "
    "(or as typed), judges the result against the cell's earlier calibrations and the state of the room, and records "
    "it "
    "with your name. While cylinder gas is on the cell its readings say \"function check\", so its room may be not "
    "monitored: keep a certified monitor with you. Records are never deleted; a wrong one is withdrawn or superseded.",
    "[ROOM/SENSOR]",
    "oxherd calibrate cryo-annexe/cell-a --by \"R. Okafor\" --dry-run\n"
    "oxherd calibrate cryo-annexe/cell-a --by \"R. Okafor\" --zero-first --zero-certificate LK-CERT-70\n"
    "oxherd calibrate pear-store-2/cell --gas span-gas --oxygen 2.01% --u-oxygen 0.02% --certificate LK-CERT-88 "
    "--check\n"
    "oxherd calibrate cryo-annexe/cell-a --signal 12.6mV --temperature 21C --humidity 45% --pressure 99.8kPa "
    "--performed 2026-03-01T08:00:00+01:00 --reason \"written down during the network failure\"\n"
    "oxherd calibrate --withdraw 7 --reason \"the door of the dewar stood open\"",
    calibrate_options,
    run_calibrate};

} // namespace oxherd::daemon::cli
