#include <cmath>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/history_answer.hpp"
#include "daemon/cli/leak_test_text.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/clock.hpp"
#include "daemon/control_socket/requests.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

/// All readings of a room, or of one sensor, in the time of the test.
tl::expected<json, AnswerError> recorded_readings(const Arguments& arguments, const LeakTestCase& test, InRoom of,
                                                  Console& console) {
  HistoryQuery query;
  query.room = std::move(of.room);
  if (!of.name.empty()) query.sensor = std::move(of.name);
  query.from = test.from;
  query.to = test.to;
  query.limit = history_limit_max;
  auto answer = history_answer(state_dir_of(arguments), {"leak-test", "readings", query}, console);
  if (answer && is_true(*answer, "truncated"))
    return tl::unexpected(
        AnswerError{failed, fmt::format("there are more than {} readings in that time: narrow it", history_limit_max)});
  return answer;
}

tl::expected<LeakSeries, AnswerError> recorded_series(const Arguments& arguments, const LeakTestCase& test,
                                                      Console& console) {
  const auto refusal = [](const std::string& what) { return AnswerError{failed, what}; };
  const auto room = recorded_readings(arguments, test, {test.room, ""}, console);
  if (!room) return tl::unexpected(room.error());
  if (test.method != LeakMethod::pressure || !test.barometer || test.barometer->room == test.room)
    return leak_series(test, {*room, *room}).map_error(refusal);
  const auto outdoors = recorded_readings(arguments, test, *test.barometer, console);
  if (!outdoors) return tl::unexpected(outdoors.error());
  return leak_series(test, {*room, *outdoors}).map_error(refusal);
}

/// The result as it is printed; the error is why the series tells nothing.
tl::expected<std::string, std::string> leak_report(LeakTestCase& test, const LeakSeries& series, bool as_json) {
  if (test.method == LeakMethod::pressure) {
    // How much of the gauge's uncertainty all its readings share is not known unless it is typed: then it is all of it.
    test.leak.u_zero_Pa = test.u_zero_Pa.value_or(series.u_common);
    const auto result = control::measure_leak(series.pressures, test.leak);
    if (!result) return tl::unexpected(result.error().what);
    return as_json ? leak_json(test, series, *result) + '\n' : leak_text(test, series, *result);
  }
  auto& outside = test.air_change.outside;
  outside.u = std::hypot(outside.u, series.u_common); // an error of the sensor acts as one of the outdoor fraction
  const auto result = control::measure_air_change(series.fractions, test.air_change);
  if (!result) return tl::unexpected(result.error().what);
  return as_json ? air_change_json(test, series, *result) + '\n' : air_change_text(test, series, *result);
}

int run_leak_test(const Arguments& arguments, Console& console) {
  auto test = read_leak_test(arguments, wall_now());
  if (!test) return report(console, "leak-test", test.error());
  const auto series = recorded_series(arguments, *test, console);
  if (!series) return report(console, "leak-test", series.error());
  const bool as_json = arguments.given("--json");
  const auto out = leak_report(*test, *series, as_json);
  if (!out) return report(console, "leak-test", {failed, out.error()});
  console.out << *out;
  if (!as_json)
    console.out << '\n'
                << wrapped(leak_test_conduct(), 100, 0) << "\n\n"
                << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

std::string_view leak_test_about() {
  static const std::string about =
      "Tells from recorded readings how tight a room is, with 95 % intervals: half-life of its over-pressure, leak, "
      "air "
      "changes and equivalent hole, corrected for temperature and barometer, beside criteria of common practice; or, "
      "by "
      "oxygen or carbon-dioxide that was purged or let in, its air changes an hour. Whatever is common to all readings "
      "of temperature and barometer cancels: type with --u- what is left. A series that tells nothing is refused with "
      "the reason and exit code 1. Asks the daemon, or reads its files when none runs. " +
      std::string{leak_test_conduct()};
  return about;
}

} // namespace

const Command leak_test_entry{
    "leak-test",
    "how tight a room is, from a recorded fall of its over-pressure or a gas that comes back",
    leak_test_about(),
    "ROOM",
    "oxherd leak-test pear-store-2 --from 2026-03-01T08:00:00+01:00 --to 2026-03-01T08:30:00+01:00\n"
    "oxherd leak-test pear-store-2 --last 30min --u-temperature \"0.03 K\" --u-barometer \"5 Pa\" --u-zero \"0.5 Pa\"\n"
    "oxherd leak-test pear-store-2 --last 24h --method oxygen --source \"-0.01 %\" --json",
    leak_test_options,
    run_leak_test};

} // namespace oxherd::daemon::cli
