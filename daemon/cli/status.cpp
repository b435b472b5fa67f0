#include <cmath>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "compensation/units.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/status_text.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/cli/watch.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> status_options() {
  return {{"--watch", "", "show it again and again until Ctrl-C: in place on a terminal, else block after block", ""},
          {"--every", "DURATION", "with --watch: from one block to the next, 1 s (default) to 1 min", "5s"},
          state_dir_option(),
          json_option("print one line of JSON, times in UTC; with --watch one line each time")};
}

/// The period of a watch; the error is a sentence.
tl::expected<std::chrono::milliseconds, std::string> period_of(const Arguments& arguments) {
  if (!arguments.given("--every")) return std::chrono::milliseconds{1000};
  if (!arguments.given("--watch")) return tl::unexpected(std::string{"--every belongs to --watch"});
  const auto seconds =
      compensation::parse_quantity(arguments.value_or("--every", ""), compensation::Dimension::duration);
  if (!seconds) return tl::unexpected(fmt::format("--every: {}", printable(seconds.error().message)));
  // What is older than a minute is nothing to look at as if it were now.
  if (!(*seconds >= 1.0 && *seconds <= 60.0))
    return tl::unexpected(std::string{"--every: write a duration from \"1s\" to \"1min\""});
  return std::chrono::milliseconds{std::llround(*seconds * 1e3)};
}

int run_status(const Arguments& arguments, Console& console) {
  const auto every = period_of(arguments);
  if (!every) return report(console, "status", {usage, every.error()});
  if (arguments.given("--watch"))
    return watch_status({state_dir_of(arguments), *every, arguments.given("--json")}, console);
  const auto result = ask(state_dir_of(arguments), {{"command", "status"}});
  if (!result) return report(console, "status", result.error());
  console.out << (arguments.given("--json") ? json_text_of(*result) : status_text(console, *result));
  return fine;
}

} // namespace

const Command status_entry{
    "status",
    "every room now: oxygen, quality, alarms; then buses, broker and records",
    "Shows the rooms that need a person first. Values carry their expanded uncertainty (k = 2); a "
    "room whose readings cannot be relied on is NOT MONITORED, whatever its last value. With --watch it asks again "
    "every second; a daemon that does not answer is told within three, and the numbers are taken away. Ctrl-C ends "
    "the watch, with exit code 0 when the daemon answered last, else 3 (or 1, when its answer was no use).",
    "",
    "oxherd status\n"
    "oxherd status --watch\n"
    "oxherd status --watch --every 10s --json\n"
    "oxherd status --state-dir ./state --json",
    status_options,
    run_status};

} // namespace oxherd::daemon::cli
