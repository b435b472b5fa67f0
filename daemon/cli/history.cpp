#include <chrono>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "alarms/texts.hpp"
#include "config/nearest.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/history_answer.hpp"
#include "daemon/cli/history_csv.hpp"
#include "daemon/cli/history_text.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/time_span.hpp"
#include "daemon/clock.hpp"
#include "daemon/control_socket/requests.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr int limit_default = 1000;
constexpr std::string_view last_default = "1h";

std::vector<Option> history_options() {
  return {{"--room", "ROOM", "only this room", "cryo-annexe"},
          {"--sensor", "SENSOR", "only this sensor (readings)", "cell-a"},
          {"--alarm", "ALARM", "only this alarm (alarms)", "low-oxygen"},
          {"--last", "DURATION", "the time until now: 90min, 2h, 7d (default 1h)", "2h"},
          {"--from", "TIME", "start, RFC 3339 with offset", "2026-03-01T08:00:00+01:00"},
          {"--to", "TIME", "end (default: now)", "2026-03-01T09:00:00+01:00"},
          {"--limit", "N", "at most so many, the newest (default 1000, at most 100000)", "200"},
          {"--as-recorded", "", "the values as they were recorded first, re-derived or not (readings)", ""},
          {"--csv", "", "print comma-separated values (RFC 4180), times in UTC", ""},
          state_dir_option(),
          json_option()};
}

struct Wanted {
  std::string what = "readings";
  HistoryQuery query;
};

tl::expected<int, std::string> limit_of(const Arguments& arguments) {
  const auto typed = arguments.value("--limit");
  if (!typed) return limit_default;
  const auto n = whole_number(*typed);
  if (!n || *n < 1 || *n > history_limit_max)
    return tl::unexpected(
        fmt::format("--limit: \"{}\" is not a whole number from 1 to {}", printable(*typed), history_limit_max));
  return static_cast<int>(*n);
}

tl::expected<Wanted, std::string> read_wanted(const Arguments& arguments, WallTime now) {
  Wanted out;
  const auto& words = arguments.positional();
  if (words.size() > 1) return tl::unexpected(std::string{"name one of readings and alarms"});
  if (!words.empty()) out.what = words[0];
  if (out.what != "readings" && out.what != "alarms") {
    const auto meant = config::nearest(out.what, {"readings", "alarms"});
    return tl::unexpected(
        fmt::format("there is no history of \"{}\"; {}", printable(out.what),
                    meant ? fmt::format("did you mean \"{}\"?", *meant) : std::string{"it is readings or alarms"}));
  }
  if (out.what == "readings" && arguments.given("--alarm"))
    return tl::unexpected(std::string{"--alarm belongs to `history alarms`"});
  if (out.what == "alarms" && arguments.given("--sensor"))
    return tl::unexpected(std::string{"--sensor belongs to `history readings`"});
  if (out.what == "alarms" && arguments.given("--as-recorded"))
    return tl::unexpected(
        std::string{"--as-recorded belongs to `history readings`: the alarm journal is never changed"});
  if (arguments.given("--csv") && arguments.given("--json"))
    return tl::unexpected(std::string{"--csv and --json exclude each other"});
  out.query.room = arguments.value("--room");
  out.query.sensor = arguments.value("--sensor");
  out.query.alarm = arguments.value("--alarm");
  const auto limit = limit_of(arguments);
  if (!limit) return tl::unexpected(limit.error());
  out.query.limit = *limit;
  const auto span = read_time_span(arguments, now, last_default);
  if (!span) return tl::unexpected(span.error());
  out.query.from = span->from;
  out.query.to = span->to;
  out.query.as_recorded = arguments.given("--as-recorded");
  return out;
}

int run_history(const Arguments& arguments, Console& console) {
  const auto now = wall_now();
  const auto wanted = read_wanted(arguments, now);
  if (!wanted) return report(console, "history", {usage, wanted.error()});
  const auto state_dir = state_dir_of(arguments);
  const auto result = history_answer(state_dir, {"history", wanted->what, wanted->query}, console);
  if (!result) return report(console, "history", result.error());
  const bool of_alarms = wanted->what == "alarms";
  if (arguments.given("--json")) {
    console.out << json_text_of(*result);
    return fine;
  }
  if (arguments.given("--csv")) {
    console.out << history_csv(*result, of_alarms);
    if (is_true(*result, "truncated"))
      console.err << "oxherd history: there are more, only the newest are written: raise --limit or narrow the time\n";
    console.err << wrapped(alarms::caution_short(), 100, 0) << '\n'; // not into the file: readers choke on it
    return fine;
  }
  console.out << history_text(*result, of_alarms, wanted->query.as_recorded) << '\n'
              << wrapped(alarms::caution_short(), 100, 0) << '\n';
  return fine;
}

} // namespace

const Command history_entry{"history",
                            "recorded readings, or the journal of the alarms",
                            "Prints what was recorded, the oldest first. Asks the daemon, or reads its files when none "
                            "runs. When there is more than the limit the newest are shown, and that is said. Readings "
                            "that `oxherd replay` formed anew are marked so; --as-recorded shows what was recorded.",
                            "[readings|alarms]",
                            "oxherd history readings --room cryo-annexe --sensor cell-a --last 2h\n"
                            "oxherd history alarms --room pear-store-2 --from 2026-03-01T00:00:00+01:00 --json\n"
                            "oxherd history readings --room cryo-annexe --last 7d --limit 100000 --csv > readings.csv",
                            history_options,
                            run_history};

} // namespace oxherd::daemon::cli
