#include "daemon/collect/collector.hpp"

#include <fmt/core.h>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/command.hpp"
#include "daemon/cli/log_level.hpp"
#include "daemon/cli/text.hpp"
#include "daemon/log.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr const char* default_file = "/etc/oxherd/collect.toml";

std::vector<Option> collect_options() {
  return {{"--config", "FILE", "the historian's settings (default: /etc/oxherd/collect.toml)", default_file},
          {"--check", "", "only read the settings and print every problem in them", ""},
          state_dir_option(),
          log_level_option()};
}

int check_settings(const std::string& file, Console& console) {
  const auto loaded = collect::load_collect_settings(file);
  const auto& problems = loaded ? loaded->warnings : loaded.error();
  for (const auto& problem : problems) console.out << printable(config::to_string(problem)) << '\n';
  console.out << fmt::format("{}: {}\n", printable(file),
                             problems.empty() ? "no problems" : counted(problems.size(), "problem"));
  return loaded ? fine : failed;
}

int collect(const std::string& file, const std::filesystem::path& state_dir) {
  const auto loaded = collect::load_collect_settings(file);
  const auto& problems = loaded ? loaded->warnings : loaded.error();
  for (const auto& problem : problems)
    log::write(loaded ? log::Level::warning : log::Level::error, "{}",
               fmt::make_format_args(config::to_string(problem)));
  if (!loaded) {
    log::error("not started: {} in {}", counted(problems.size(), "problem"), file);
    return failed;
  }
  collect::run_collector(loaded->settings, state_dir);
  log::info("stopped");
  return fine;
}

int run_collect(const Arguments& arguments, Console& console) {
  const auto file = arguments.value_or("--config", default_file);
  if (arguments.given("--check")) return check_settings(file, console);
  const auto level = log_level_of(arguments);
  if (!level) {
    console.err << fmt::format("oxherd collect: {}\n", level.error());
    return usage;
  }
  log::start(*level);
  const int code = collect(file, state_dir_of(arguments));
  log::stop();
  return code;
}

} // namespace

const Command collect_entry{
    "collect",
    "the historian of many sites: from the broker into PostgreSQL",
    "Reads what every site's daemon publishes and keeps it in one PostgreSQL database: samples, minutes and hours of "
    "them, "
    "alarm journals, and what stands now. A message is acknowledged to the broker once the database has it. Runs in "
    "the "
    "foreground until it is told to stop (SIGTERM or Ctrl-C). oxherd-collect.toml(5) describes its settings.",
    "",
    "oxherd collect --config /etc/oxherd/collect.toml\n"
    "oxherd collect --config larkfield-collect.toml --check",
    collect_options,
    run_collect};

} // namespace oxherd::daemon::cli
