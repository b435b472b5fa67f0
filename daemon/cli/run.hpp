#pragma once

#include <filesystem>
#include <string>

namespace oxherd::daemon::cli {

/// What `oxherd run` was started with. `state_dir` is already resolved (option, environment, default).
struct RunOptions {
  std::filesystem::path config;
  std::filesystem::path state_dir;
  std::string log_level; ///< "debug", "info", "warning" or "error"
};

/// The daemon: returns its exit code once it has been told to stop: 0 after an orderly stop, 1 when it could not start.
[[nodiscard]] int run_command(const RunOptions& options);

} // namespace oxherd::daemon::cli
