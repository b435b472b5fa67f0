#pragma once

#include <optional>
#include <string>
#include <vector>

#include "daemon/reading_basis.hpp"

namespace oxherd::daemon::notify {

struct RouteHealth {
  std::string name, kind;
  std::string trouble;  ///< of the last attempt; empty: it was taken, or there was none
  bool failing = false; ///< for so long that it was reported
  std::size_t waiting = 0;
  std::uint64_t delivered = 0, given_up = 0; ///< since the start
  std::optional<WallTime> last_delivered;
};
struct TestHealth {
  std::string route;
  std::int64_t number = 0;
  WallTime sent;
  std::optional<WallTime> answered;
  std::string answered_by;
  bool missed = false;
};
struct ContactHealth {
  std::string name, person;
  std::vector<std::string> routes;
  std::optional<WallTime> last_delivered;
  std::vector<TestHealth> tests; ///< the last of each route
};
struct WatcherHealth {
  bool configured = false;
  std::string trouble; ///< empty: the last heartbeat was taken
  std::optional<WallTime> last_taken;
};

/// How the telling of people is doing.
struct NotifyHealth {
  std::vector<RouteHealth> routes;
  std::vector<ContactHealth> contacts;
  WatcherHealth watcher;
  std::size_t unanswered = 0;  ///< alarms on their way up a ladder
  std::size_t to_be_told = 0;  ///< that wait to be merged, or for hours
  std::size_t waiting = 0;     ///< messages that no route has taken yet
  std::string archive_trouble; ///< empty: everything is on the disk
  std::string trouble;         ///< of all of it: nobody is told. Empty: it goes on
};

/// The answer to `oxherd notify`, and what `oxherd status` shows of it.
[[nodiscard]] std::string notify_payload(const NotifyHealth& health);
[[nodiscard]] std::string notify_summary(const NotifyHealth& health);

} // namespace oxherd::daemon::notify
