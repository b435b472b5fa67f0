#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include <tl/expected.hpp>

#include "config/notify_settings.hpp"
#include "daemon/notify/message.hpp"

namespace oxherd::daemon::notify {

/// The last test of one route to one contact. A person answers it with its number.
struct RouteTest {
  std::int64_t number = 0;
  WallTime sent;
  std::string answered_by; ///< empty: nobody yet
  std::optional<WallTime> answered;
  bool reported = false; ///< that nobody answered in time
  friend bool operator==(const RouteTest&, const RouteTest&) = default;
};

struct RouteTests {
  using Key = std::pair<std::string, std::string>; ///< contact, route
  std::map<Key, RouteTest> last;
  std::map<Key, std::int64_t> period; ///< the latest whose test is done
  friend bool operator==(const RouteTests&, const RouteTests&) = default;
};

/// The routes of a contact behind which a person reads; the others prove themselves by taking messages.
[[nodiscard]] std::vector<std::string> tested_routes(const config::Notify& settings, const config::Contact& contact);

/// The instant of period `n` at which a route is tested: another hour each time, the same on every machine.
[[nodiscard]] WallTime test_time(const config::Notify& settings, const RouteTests::Key& key, std::int64_t n);

/// Whose test is due now; marks them as done. A new pair waits for its next period: a start tests nobody.
[[nodiscard]] std::vector<RouteTests::Key> tests_due(const config::Notify& settings, RouteTests& tests, WallTime now);

/// The tests that nobody answered in time, each told once.
[[nodiscard]] std::vector<RouteTests::Key> tests_missed(const config::Notify& settings, RouteTests& tests,
                                                        WallTime now);

/// Notes who answered. The error says why not.
[[nodiscard]] tl::expected<RouteTests::Key, std::string> answer_test(RouteTests& tests, std::int64_t number,
                                                                     const std::string& by, WallTime now);

} // namespace oxherd::daemon::notify
