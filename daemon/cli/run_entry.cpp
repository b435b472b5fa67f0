#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/nearest.hpp"
#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/run.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr std::array<std::string_view, 4> log_levels{"debug", "info", "warning", "error"};

std::vector<Option> run_options() {
  return {{"--config", "FILE", "the site's settings (default: /etc/oxherd/oxherd.toml)", "/etc/oxherd/oxherd.toml"},
          state_dir_option(),
          {"--log-level",
           "LEVEL",
           "debug, info (default), warning or error",
           "info",
           true,
           {log_levels.begin(), log_levels.end()}}};
}

int run_run(const Arguments& arguments, Console& console) {
  const auto level = arguments.value_or("--log-level", "info");
  if (std::ranges::find(log_levels, level) == log_levels.end()) {
    const auto meant = config::nearest(level, {log_levels.begin(), log_levels.end()});
    console.err << fmt::format("oxherd run: --log-level: there is no level \"{}\"; {}\n", printable(level),
                               meant ? fmt::format("did you mean \"{}\"?", *meant)
                                     : std::string{"it is debug, info, warning or error"});
    return usage;
  }
  return run_command({.config = arguments.value_or("--config", "/etc/oxherd/oxherd.toml"),
                      .state_dir = state_dir_of(arguments),
                      .log_level = level});
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
