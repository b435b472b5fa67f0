#pragma once

#include <cstdint>
#include <deque>
#include <optional>
#include <set>

#include "daemon/mqtt/disk_order.hpp"

namespace oxherd::daemon {

/// The lines of the alarm journal on their way to the broker, in their order. The journal itself is the queue: only the
/// next few are here, and how far the broker has it. So no line is ever dropped. Holds no lock and no clock.
class JournalQueue {
public:
  static constexpr int read_at_once = 100;

  /// The next line to be sent, now unacknowledged.
  [[nodiscard]] std::optional<QueuedMessage> next();
  void acknowledged(std::int64_t sequence) { sent_.erase(sequence); }
  void disconnected(); ///< everything unacknowledged is to be sent again

  [[nodiscard]] bool wants_lines() const; ///< there are more, and few are at hand
  void order(DiskOrder& order, bool connected) const;
  void take(DiskOutcome& outcome);

  [[nodiscard]] bool nothing_at_hand() const { return loaded_.empty() && sent_.empty(); }
  [[nodiscard]] std::uint64_t waiting() const; ///< lines that the broker has not acknowledged, as far as is known

private:
  [[nodiscard]] std::int64_t settled() const;

  std::deque<QueuedMessage> loaded_;
  std::set<std::int64_t> sent_;            ///< unacknowledged
  std::optional<std::int64_t> settled_to_; ///< on an earlier connection; empty until the disk has told
  std::int64_t taken_to_ = 0;              ///< up to here the lines were read
  std::int64_t last_ = 0;                  ///< of the journal
};

} // namespace oxherd::daemon
