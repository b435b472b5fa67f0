#include "daemon/cli/run.hpp"

#include <algorithm>
#include <cstdlib>
#include <exception>
#include <iterator>
#include <new>
#include <optional>
#include <string_view>
#include <utility>

#include <malloc.h>
#include <unistd.h>

#include <fmt/core.h>

#include "config/load.hpp"
#include "daemon/cli/profile_dirs.hpp"
#include "daemon/cli/wording.hpp"
#include "daemon/log.hpp"
#include "daemon/run/daemon.hpp"

namespace oxherd::daemon::cli {
namespace {

std::optional<log::Level> level_named(const std::string& name) {
  static constexpr const char* names[] = {"debug", "info", "warning", "error"};
  const auto* found = std::find(std::begin(names), std::end(names), name);
  if (found == std::end(names)) return std::nullopt;
  return static_cast<log::Level>(found - std::begin(names));
}

/// Without memory nothing goes on by halves: a part that ended alone would be silent from then on. Needs no memory.
[[noreturn]] void end_without_memory() {
  constexpr std::string_view words =
      "error ended by a fault: out of memory; nothing is watched until it is started again\n";
  static_cast<void>(::write(STDERR_FILENO, words.data(), words.size()) < 0);
  std::abort();
}

/// What bus threads allocate is freed by others. With an arena for each few of them, as is usual, glibc would hold on
/// to a multiple of what is in use.
void keep_memory_together() { ::mallopt(M_ARENA_MAX, 2); }

std::string_view ended(bool is_started) { return is_started ? "ended by a fault" : "not started"; }

int run_daemon(const RunOptions& options) {
  keep_memory_together();
  auto loaded = config::load(options.config, profile_dirs());
  if (!loaded) {
    for (const auto& problem : loaded.error()) log::error("{}", config::to_string(problem));
    log::error("not started: {} problems in {}", loaded.error().size(), options.config.string());
    return 1;
  }
  for (const auto& warning : std::exchange(loaded->warnings, {})) log::warning("{}", config::to_string(warning));
  auto store = Store::open(options.state_dir, loaded->settings.store);
  if (!store) {
    log::error("not started: {}", store.error().what);
    return 1;
  }
  std::set_new_handler(end_without_memory);
  bool is_started = false;
  try {
    Daemon daemon{
        {options.config, options.state_dir, profile_dirs(), std::move(loaded->settings), std::move(*store), wording()}};
    is_started = true;
    ::malloc_trim(0); // reading a large settings file takes much more than what comes of it
    daemon.run();
  } catch (const std::exception& e) {
    log::error("{}: {}", ended(is_started), e.what());
    return 1;
  }
  log::info("stopped");
  return 0;
}

} // namespace

int run_command(const RunOptions& options) {
  const auto level = level_named(options.log_level);
  if (!level) {
    fmt::print(stderr, "--log-level {}: debug, info, warning or error\n", options.log_level);
    return 2;
  }
  log::start(*level);
  const int code = run_daemon(options);
  log::stop();
  return code;
}

} // namespace oxherd::daemon::cli
