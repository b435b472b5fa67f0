#include <fmt/core.h>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/log_level.hpp"
#include "daemon/cli/run.hpp"

namespace oxherd::daemon::cli {
namespace {

std::vector<Option> run_options() {
  return {{"--config", "FILE", "the site's settings (default: /etc/oxherd/oxherd.toml)", "/etc/oxherd/oxherd.toml"},
          state_dir_option(),
          log_level_option()};
}

int run_run(const Arguments& arguments, Console& console) {
  const auto level = log_level_of(arguments);
  if (!level) {
    console.err << fmt::format("oxherd run: {}\n", level.error());
    return usage;
  }
  return run_command({.config = arguments.value_or("--config", "/etc/oxherd/oxherd.toml"),
                      .state_dir = state_dir_of(arguments),
                      .log_level = arguments.value_or("--log-level", "info")});
}

} // namespace

const Command run_entry{
    "run",
    "the daemon: polls, corrects, raises alarms, publishes, records",
    "Runs in the foreground until it is told to stop (SIGTERM or Ctrl-C). SIGHUP reads the settings "
    "again; a file with errors is refused whole and the old settings go on.",
    "",
    "oxherd run --config /etc/oxherd/oxherd.toml\n"
    "oxherd run --config larkfield.toml --state-dir ./state --log-level debug",
    run_options,
    run_run};

} // namespace oxherd::daemon::cli
