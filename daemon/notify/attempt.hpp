#pragma once

#include <cstdint>
#include <string>

namespace oxherd::daemon::notify {

/// How one attempt ended.
struct Attempt {
  std::int64_t key = 0; ///< of the parcel; `watcher_key` for the watcher
  std::string trouble;  ///< why it failed; empty: taken
};
inline constexpr std::int64_t watcher_key = -1;

} // namespace oxherd::daemon::notify
