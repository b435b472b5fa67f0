#pragma once

#include <chrono>
#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <mutex>
#include <string>
#include <vector>

#include "daemon/collect/senml.hpp"

namespace oxherd::daemon::collect {

/// A message as it came. What has no id needs no acknowledgement.
struct Delivery {
  std::uint64_t connection = 0; ///< on which it came: only there it can be acknowledged
  std::uint16_t id = 0;
  bool retained = false;
  std::string topic, payload;
  SampleTime at;
};

/// Messages on their way from the broker to the database. Bounded by their bytes: when it is full the reader stops
/// reading, and what comes then waits in the broker. Any thread.
class Inbox {
public:
  using Clock = std::chrono::steady_clock;
  struct Limits {
    std::size_t bytes_max = 64 << 20;
    std::size_t batch_bytes = 2 << 20; ///< so much is taken at once, without waiting for more
    std::size_t batch_messages = 500;  ///< likewise; half of what the broker sends ahead
    std::chrono::milliseconds flush_every{200};
  };
  /// @param drained  called without a lock when an inbox that was full has room again
  Inbox(const Limits& limits, std::function<void()> drained) : limits_{limits}, drained_{std::move(drained)} {}

  /// @return whether there is room for more; what comes nevertheless is taken
  [[nodiscard]] bool put(Delivery delivery);
  /// The next messages: when enough are there, or the first has waited for `flush_every`. Empty: stop() was called and
  /// nothing is left, or `at_most` has passed.
  [[nodiscard]] std::vector<Delivery> take(std::chrono::milliseconds at_most);
  void stop();
  [[nodiscard]] std::size_t waiting() const;

private:
  [[nodiscard]] bool enough() const;
  [[nodiscard]] bool full() const { return bytes_ >= limits_.bytes_max; }

  const Limits limits_;
  const std::function<void()> drained_;
  mutable std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<Delivery> deliveries_;
  std::size_t bytes_ = 0;
  Clock::time_point first_at_;
  bool stopping_ = false, was_full_ = false;
};

} // namespace oxherd::daemon::collect
