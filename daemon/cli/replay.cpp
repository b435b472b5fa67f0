#include <chrono>
#include <cmath>

#include <fmt/core.h>
#include <unistd.h>

#include "alarms/texts.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/interrupt_guard.hpp"
#include "daemon/cli/progress_line.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/time_span.hpp"
#include "daemon/clock.hpp"
#include "daemon/json_text.hpp"
#include "daemon/replay/basis_in_force.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> replay_options() {
  return {{"--by", "NAME", "who decided it; recorded", "R. Finch"},
          {"--reason", "TEXT", "why; recorded", "certificate of the span gas arrived late"},
          {"--from", "TIME", "start, RFC 3339 with offset (default: the first record)", "2026-03-01T08:00:00+01:00"},
          {"--to", "TIME", "end (default: now)", "2026-03-01T09:00:00+01:00"},
          {"--last", "DURATION", "the time until the end, in place of --from: 2h, 7d", "7d"},
          {"--dry-run", "", "count what would change, write nothing: do this first", ""},
          state_dir_option(),
          json_option("print the summary as one line of JSON, times in UTC")};
}

/// What the command line asks for; the error is a sentence.
tl::expected<ReplayTask, std::string> read_task(const Arguments& arguments, WallTime now) {
  const auto& words = arguments.positional();
  if (words.size() != 1)
    return tl::unexpected(std::string{"name one sensor as ROOM/SENSOR, such as cryo-annexe/cell-a"});
  const auto sensor = in_room(words[0]);
  if (!sensor || sensor->name.find('/') != std::string::npos)
    return tl::unexpected(
        fmt::format("\"{}\" is not a sensor; write ROOM/SENSOR, such as cryo-annexe/cell-a", printable(words[0])));
  ReplayTask task;
  task.dry_run = arguments.given("--dry-run");
  task.range.room = sensor->room;
  task.range.sensor = sensor->name;
  task.author = arguments.value_or("--by", "");
  task.reason = arguments.value_or("--reason", "");
  const auto blank = [](const std::string& text) { return text.find_first_not_of(" \t\n") == std::string::npos; };
  if (!task.dry_run && blank(task.author))
    return tl::unexpected(
        std::string{"--by is missing: who decided that these readings are formed anew? It is recorded "
                    "with them"});
  if (!task.dry_run && blank(task.reason))
    return tl::unexpected(std::string{"--reason is missing: why are these readings formed anew? It is recorded with "
                                      "them"});
  const auto span = read_time_span(arguments, now, std::nullopt);
  if (!span) return tl::unexpected(span.error());
  task.range.from = span->from;
  task.range.to = span->to;
  return task;
}

/// Where the cause is that this user may not write, what to do about it.
std::string with_advice(const std::string& what, const std::filesystem::path& state_dir, bool dry_run) {
  const auto file = state_dir / "measurements.sqlite";
  const bool readable = access(file.c_str(), R_OK) == 0;
  const bool writable = access(file.c_str(), W_OK) == 0 && access(state_dir.c_str(), W_OK) == 0;
  std::error_code failed;
  if (!std::filesystem::exists(file, failed) && !failed) return what;
  if (readable && (writable || dry_run)) return what;
  return fmt::format(
      "{}; this user may not {} the records: run it as the daemon's user, such as `sudo -u oxherd oxherd "
      "replay ...`",
      what, readable ? "write" : "read");
}

std::string_view unexplained_text() {
  return "formed anew on the calibration they had, these give other digits than were recorded: another version of "
         "oxherd computed them. Part of the change may come from the version, not from the calibration";
}

std::string summary_line(std::string_view name, const std::string& value) {
  return fmt::format("  {:<16}{}\n", name, value);
}

std::string replay_text(const ReplayTask& task, const ReplayReport& report, bool interrupted) {
  const auto sensor = printable(task.range.room) + '/' + printable(task.range.sensor);
  std::string out = task.dry_run ? fmt::format("Tried only, nothing was written: {}\n", sensor)
                                 : fmt::format("Formed anew: {}\n", sensor);
  out += summary_line("examined", counted(report.examined, "reading"));
  out += summary_line(task.dry_run ? "would change" : "changed", counted(report.changed, "reading"));
  if (report.changed > 0)
    out += summary_line("largest change", fmt::format("{:.4f} % oxygen, dry basis", report.largest_change * 100.0));
  if (report.derivation) out += summary_line("derivation", fmt::format("{}", *report.derivation));
  if (report.unexplained > 0)
    out += summary_line("unexplained",
                        fmt::format("{}: {}", counted(report.unexplained, "reading"), std::string{unexplained_text()}));
  if (interrupted)
    out += fmt::format("INTERRUPTED at {:.0f} %: what is done stands and is complete in itself; run it again for the "
                       "rest\n",
                       report.progress * 100.0);
  if (report.examined == 0)
    out += "No oxygen reading of that sensor is recorded in that time: `oxherd status` lists the sensors\n";
  else if (report.changed == 0)
    out += "Nothing changes: every reading rests on the calibration in force already\n";
  else if (task.dry_run)
    out += "Without --dry-run the new values stand beside the recorded ones, which are kept\n";
  else
    out += fmt::format("The recorded values are kept. To look at both:\n"
                       "  oxherd history readings --room {0} --sensor {1} --last 7d\n"
                       "  oxherd explain --room {0} --sensor {1} --at TIME\n",
                       printable(task.range.room), printable(task.range.sensor));
  return out;
}

std::string replay_json(const ReplayTask& task, const ReplayReport& report, bool interrupted) {
  return JsonObject{}
      .text("room", task.range.room)
      .text("sensor", task.range.sensor)
      .text("from", rfc3339(task.range.from))
      .text("to", rfc3339(task.range.to))
      .flag("dry_run", task.dry_run)
      .integer("examined", static_cast<std::int64_t>(report.examined))
      .integer("changed", static_cast<std::int64_t>(report.changed))
      .integer("unexplained", static_cast<std::int64_t>(report.unexplained))
      .number("largest_change_fraction", report.largest_change)
      .json("derivation", report.derivation ? fmt::format("{}", *report.derivation) : "null")
      .flag("interrupted", interrupted)
      .number("progress", report.progress)
      .str();
}

int run_replay(const Arguments& arguments, Console& console) {
  const auto now = wall_now();
  const auto task = read_task(arguments, now);
  if (!task) return report(console, "replay", {usage, task.error()});
  const auto state_dir = state_dir_of(arguments);
  auto records = calibration_records(state_dir);
  if (!records) return report(console, "replay", {failed, with_advice(records.error().what, state_dir, task->dry_run)});
  BasisInForce basis{std::move(*records)};
  const InterruptGuard guard;
  ProgressLine line{console.err, isatty(STDERR_FILENO) == 1};
  bool interrupted = false;
  const auto done = replay(
      state_dir, *task, [&basis](const RecordedOxygen& recorded) { return basis(recorded); }, now,
      [&](const ReplayReport& so_far) {
        line.show_part(so_far.examined, so_far.progress);
        interrupted = InterruptGuard::interrupted() && so_far.progress < 1.0;
        return !interrupted;
      });
  line.clear();
  if (!done) return report(console, "replay", {failed, with_advice(done.error().what, state_dir, task->dry_run)});
  if (arguments.given("--json"))
    console.out << replay_json(*task, *done, interrupted) << '\n';
  else
    console.out << replay_text(*task, *done, interrupted) << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return interrupted ? cut_short : fine;
}

} // namespace

const Command replay_entry{
    "replay",
    "recorded readings formed anew with the calibrations now on record",
    "Forms recorded oxygen readings of one sensor anew, each with the calibration that was in force at its time by all "
    "records there are now, late entries and withdrawals included. The new values stand beside the recorded ones, with "
    "a number, the name, the reason and the time; nothing is overwritten, and another replay undoes it. Alarms of the "
    "past are not judged again. Try it with --dry-run first. Without --from and --last it takes all that is recorded. "
    "Works beside a running daemon and without one, on its files, as the daemon's user. Interrupted, it leaves the "
    "part "
    "that is done, says so, and ends with exit code 6; run again, it does the rest.",
    "ROOM/SENSOR",
    "oxherd replay cryo-annexe/cell-a --dry-run\n"
    "oxherd replay cryo-annexe/cell-a --by \"R. Finch\" --reason \"certificate of the span gas arrived late\" --last "
    "7d",
    replay_options,
    run_replay};

} // namespace oxherd::daemon::cli
