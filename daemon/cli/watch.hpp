#pragma once

#include <chrono>
#include <filesystem>

#include "daemon/cli/console.hpp"

namespace oxherd::daemon::cli {

struct WatchAsked {
  std::filesystem::path state_dir;
  std::chrono::milliseconds every{1000}; ///< from one block to the next
  bool json = false;
};

/// Shows the status again and again until it is interrupted: in place on a terminal, else one block after another. The
/// daemon is asked once a second at least, so that its loss is shown within three.
/// @return  what the last question came to: `fine`, or `no_daemon` and the like
[[nodiscard]] int watch_status(const WatchAsked& asked, Console& console);

} // namespace oxherd::daemon::cli
