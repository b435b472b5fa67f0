#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <limits>
#include <map>
#include <optional>
#include <string>

#include "daemon/mqtt/disk_order.hpp"

namespace oxherd::daemon {

/// The measurements that wait for the broker, in the order of entry. What is on disk comes before what is in memory
/// alone: it fills from its front, and from there it is read back. While the broker keeps up nothing goes to the disk.
/// What the disk does not take stays in memory, where the oldest give way and are counted. When what is on disk cannot
/// be read, newer measurements pass it by. Holds no lock and no clock.
class Backlog {
public:
  static constexpr std::size_t store_at_once = 500; ///< little enough to be copied under a lock
  static constexpr std::size_t read_at_once = 200;

  explicit Backlog(std::size_t memory_max) : memory_max_{memory_max} {}

  /// There may be something on disk from earlier runs: it goes first.
  void expect_earlier() { taken_to_ = settled_to_ = std::numeric_limits<std::int64_t>::min(); }
  void add(std::string topic, std::string payload);
  /// The next one to be sent, now unacknowledged; nothing when none is at hand.
  [[nodiscard]] std::optional<QueuedMessage> next();
  void acknowledged(std::int64_t sequence) { sent_.erase(sequence); }
  void connected() { passing_by_ = false; } ///< the disk is tried once more
  /// Everything unacknowledged is to be sent again.
  void disconnected();

  [[nodiscard]] bool wants_rows() const; ///< the next ones are on disk, and few are at hand
  /// Fills in what is to be done. `room`: there is a connection that takes more messages.
  void order(DiskOrder& order, bool connected, bool room);
  void take(DiskOutcome& outcome);

  [[nodiscard]] bool nothing_at_hand() const { return fresh_.empty() && loaded_.empty() && sent_.empty(); }
  [[nodiscard]] std::size_t in_memory_alone() const;
  [[nodiscard]] std::uint64_t on_disk() const { return on_disk_; }
  [[nodiscard]] std::uint64_t dropped() const { return dropped_; }

private:
  [[nodiscard]] bool next_are_on_disk() const { return stored_to_ > taken_to_; }
  [[nodiscard]] std::int64_t settled() const;
  void bound();

  std::size_t memory_max_;
  std::deque<QueuedMessage> loaded_;           ///< copies of rows, to be sent next
  std::deque<QueuedMessage> fresh_;            ///< not on disk, all behind stored_to_
  std::map<std::int64_t, QueuedMessage> sent_; ///< unacknowledged; those behind stored_to_ are not on disk
  std::int64_t last_ = 0;                      ///< given
  std::int64_t stored_to_ = 0;                 ///< up to here everything that is not settled is on disk
  std::int64_t storing_to_ = 0;                ///< likewise, once the order under way is done
  std::int64_t taken_to_ = 0;                  ///< up to here everything was taken to be sent on this connection
  std::int64_t settled_to_ = 0;                ///< up to here everything is acknowledged or dropped
  bool passing_by_ = false;                    ///< what is on disk cannot be read
  std::uint64_t on_disk_ = 0, dropped_ = 0;
};

} // namespace oxherd::daemon
