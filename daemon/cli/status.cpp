#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/status_text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> status_options() { return {state_dir_option(), json_option()}; }

int run_status(const Arguments& arguments, Console& console) {
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
    "room whose readings cannot be relied on is NOT MONITORED, whatever its last value.",
    "",
    "oxherd status\n"
    "oxherd status --state-dir ./state --json",
    status_options,
    run_status};

} // namespace oxherd::daemon::cli
