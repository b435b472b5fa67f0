#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <string>

#include "daemon/mqtt/backlog.hpp"
#include "daemon/mqtt/disk_order.hpp"
#include "daemon/mqtt/journal_queue.hpp"

namespace oxherd::daemon {

struct OutboxLimits {
  std::size_t measurements = 10000; ///< in memory alone; the oldest are dropped and counted
  std::size_t changes = 1000;       ///< waiting before older changes of a topic give way to its newest
  std::size_t window = 20;          ///< unacknowledged at a time; the client library searches them linearly
};

/// One message as it is handed to the broker.
struct Outgoing {
  std::uint64_t id = 0; ///< grows by one with every message taken; 0 is never given
  std::string topic, payload;
  bool retained = false;
  int qos = 1;
};

/// What is to be published, in which order, and what of it the broker has not acknowledged. Five kinds:
/// a *measurement* waits in a bounded queue, on disk while the broker is away (Backlog); a *state* is retained, and
/// only the latest of a topic is ever sent; a *change* is retained too, but every one is sent, in order, unless more
/// wait than the limit: then only the latest of each topic stays. After a reconnect everything unacknowledged goes out
/// again in its order (at least once), and the latest of every retained topic, because a restarted broker has forgotten
/// it. A *letter* is not retained and goes out once, on the connection it was handed in on: whoever sends it is told
/// what came of it, and keeps it. A *line* of the journal is read from there (JournalQueue). Changes and states go
/// first, then letters, lines and measurements. The disk is asked by `order`, and what came of it told by `take`;
/// nothing but measurements and lines ever waits for it. Holds no lock and no clock: the caller has them.
class Outbox {
public:
  explicit Outbox(OutboxLimits limits, std::string journal_topic = "journal")
      : limits_{limits}, journal_topic_{std::move(journal_topic)}, backlog_{limits.measurements} {}

  void expect_disk() { backlog_.expect_earlier(); } ///< measurements wait until the first order is carried out
  void measurement(std::string topic, std::string payload);
  void state(std::string topic, std::string payload);
  void change(std::string topic, std::string payload);
  /// `settled` is called once: whether the broker has acknowledged it before the connection ended. Not connected: at
  /// once.
  void letter(std::string topic, std::string payload, std::function<void(bool)> settled);

  void connected();
  void disconnected();
  /// The next message to hand over, now unacknowledged; nothing while disconnected, when the window is full or when all
  /// is sent.
  [[nodiscard]] std::optional<Outgoing> next();
  void acknowledged(std::uint64_t id); ///< an id that is not in flight is ignored

  /// What the disk is to do next; one at a time, until `take` has told what came of it.
  [[nodiscard]] DiskOrder order();
  void take(DiskOutcome outcome);
  /// Something that could be sent is on disk: an order is worth its while at once.
  [[nodiscard]] bool wants_disk() const { return connected_ && (backlog_.wants_rows() || journal_.wants_lines()); }

  /// Acknowledgements are worth a wake-up in numbers: half of the window, or all that are missing.
  [[nodiscard]] std::size_t acknowledgements_awaited() const { return std::min(in_flight_.size(), limits_.window / 2); }
  [[nodiscard]] bool all_sent() const;         ///< and acknowledged, of what is in memory
  [[nodiscard]] std::uint64_t waiting() const; ///< accepted and not acknowledged, in memory and on disk
  [[nodiscard]] std::uint64_t on_disk() const { return backlog_.on_disk(); }         ///< measurements
  [[nodiscard]] std::uint64_t journal_waiting() const { return journal_.waiting(); } ///< lines
  [[nodiscard]] std::uint64_t dropped_measurements() const { return backlog_.dropped(); }
  [[nodiscard]] std::uint64_t published() const { return published_; } ///< acknowledged by a broker

private:
  enum class Kind { measurement, line, state, change, letter };
  struct Message {
    Kind kind = Kind::measurement;
    std::string topic, payload;             ///< empty in flight for measurements and lines, which their queues keep
    std::function<void(bool)> settled = {}; ///< of letters
    std::int64_t sequence = 0;              ///< of measurements and lines
  };
  struct Latest {
    std::string payload;
    std::uint64_t order = 0; ///< of its last change
  };
  void remember(const std::string& topic, const std::string& payload);
  void keep_newest_changes();
  [[nodiscard]] std::optional<Outgoing> next_of(std::deque<Message>& queue);
  [[nodiscard]] std::optional<Outgoing> next_of(Kind kind, std::optional<QueuedMessage> message);

  OutboxLimits limits_;
  std::string journal_topic_;
  bool connected_ = false;
  std::deque<Message> retained_; ///< states and changes that are due
  std::deque<Message> letters_;  ///< oldest first
  JournalQueue journal_;
  Backlog backlog_;
  std::map<std::uint64_t, Message> in_flight_;
  std::map<std::string, Latest> latest_;
  std::uint64_t last_id_ = 0, last_order_ = 0, published_ = 0;
};

} // namespace oxherd::daemon
