#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>

namespace oxherd::daemon::http {

/// The connections that are served at once, and which of them wait for a request. When all places are taken, who has
/// waited longest makes room: holding connections without asking anything keeps nobody out. One thread.
class Places {
public:
  explicit Places(std::size_t limit) : limit_{limit} {}

  /// Whether one more may enter; ends a waiting one when that is needed.
  [[nodiscard]] bool make_room();
  void enter() { ++taken_; }
  void leave() { --taken_; }
  [[nodiscard]] std::size_t taken() const { return taken_; }

  /// @param end  ends the connection
  /// @return     what no_longer_waits() takes, never 0
  [[nodiscard]] std::uint64_t waits(std::function<void()> end);
  void no_longer_waits(std::uint64_t ticket) { waiting_.erase(ticket); }

private:
  std::size_t limit_, taken_ = 0;
  std::uint64_t last_ticket_ = 0;
  std::map<std::uint64_t, std::function<void()>> waiting_; ///< the first has waited longest
};

} // namespace oxherd::daemon::http
