#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/alarm_report/from_store.hpp"
#include "daemon/cli/alarm_report_text.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/time_span.hpp"
#include "daemon/clock.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr std::string_view reported_time = "7d"; // the trade looks at weeks

std::vector<Option> alarm_report_options() {
  return {{"--room", "ROOM", "only the alarms of this room", "cryo-annexe"},
          {"--last", "DURATION", "the time until now: 12h, 7d, 30d (default 7d)", "30d"},
          {"--from", "TIME", "start, RFC 3339 with offset", "2026-03-01T00:00:00+01:00"},
          {"--to", "TIME", "end (default: now)", "2026-04-01T00:00:00+02:00"},
          state_dir_option(),
          json_option()};
}

/// Reads the files themselves: a daemon that does not run must not hide its records.
tl::expected<nlohmann::json, AnswerError> alarm_report_from_files(const std::filesystem::path& state_dir,
                                                                  const AlarmReportQuery& query) {
  const auto report = alarm_report_of(state_dir, query);
  if (!report) return tl::unexpected(AnswerError{failed, report.error().what});
  return read_answer(fmt::format("{{\"ok\":true,\"result\":{}}}", *report));
}

int run_alarm_report(const Arguments& arguments, Console& console) {
  const auto span = read_time_span(arguments, wall_now(), reported_time);
  if (!span) return report(console, "alarm-report", {usage, span.error()});
  const AlarmReportQuery query{arguments.value("--room"), span->from, span->to};
  nlohmann::json request{{"command", "alarm_report"}, {"from", rfc3339(query.from)}, {"to", rfc3339(query.to)}};
  if (query.room) request["room"] = *query.room;
  const auto state_dir = state_dir_of(arguments);
  auto result = ask(state_dir, request);
  if (!result && result.error().exit == no_daemon) {
    auto files = alarm_report_from_files(state_dir, query);
    if (!files)
      return report(console, "alarm-report",
                    {no_daemon, fmt::format("{}; {}", result.error().what, files.error().what)});
    console.err << fmt::format("oxherd alarm-report: no daemon answers in {}: this is of the records it left\n",
                               state_dir.string());
    result = std::move(files);
  }
  if (!result) return report(console, "alarm-report", result.error());
  if (arguments.given("--json")) {
    console.out << json_text_of(*result);
    return fine;
  }
  console.out << fmt::format("Alarms of {}\n", query.room ? "room " + printable(*query.room) : std::string{"the site"})
              << alarm_report_text(*result) << '\n'
              << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

} // namespace

const Command alarm_report_entry{
    "alarm-report",
    "how the alarms performed: load, floods, nuisance, answers, what was hidden",
    "Prints the figures by which EEMUA 191 and ISA-18.2 judge an alarm system, each beside what they recommend, from "
    "the recorded journal. Tests do not count. Five minutes without a recorded reading are reported as not watched and "
    "are in no rate. Asks the daemon, or reads its files when none runs.",
    "",
    "oxherd alarm-report\n"
    "oxherd alarm-report --room cryo-annexe --last 30d\n"
    "oxherd alarm-report --from 2026-03-01T00:00:00+01:00 --to 2026-04-01T00:00:00+02:00 --json",
    alarm_report_options,
    run_alarm_report};

} // namespace oxherd::daemon::cli
