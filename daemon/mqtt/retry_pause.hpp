#pragma once

#include <algorithm>
#include <chrono>
#include <optional>
#include <utility>

namespace oxherd::daemon {

/// How long to wait before a broker is tried again: twice as long after each failure in a row. A broker that is back is
/// found soon; one attempt costs next to nothing.
/// @checked tests/daemon/mqtt/retry_pause_test.cpp
class RetryPause {
public:
  using Clock = std::chrono::steady_clock;
  static constexpr std::chrono::milliseconds first{250};
  static constexpr std::chrono::seconds longest{10};
  /// A connection lost sooner does not shorten the pause: two clients of one name push each other out.
  static constexpr std::chrono::seconds stands{5};

  /// @param connected_at  when the connection that has ended was made; empty: there was none
  [[nodiscard]] std::chrono::milliseconds next(std::optional<Clock::time_point> connected_at, Clock::time_point now) {
    if (connected_at && now - *connected_at >= stands) wait_ = first;
    return std::exchange(wait_, std::min<std::chrono::milliseconds>(2 * wait_, longest));
  }

private:
  std::chrono::milliseconds wait_ = first;
};

} // namespace oxherd::daemon
