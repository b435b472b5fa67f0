#pragma once

#include <cstddef>
#include <cstdint>
#include <deque>
#include <functional>
#include <map>
#include <optional>
#include <string>

namespace oxherd::daemon {

struct OutboxLimits {
  std::size_t measurements = 10000; ///< waiting while the broker is away; the oldest are dropped and counted
  std::size_t changes = 1000;       ///< waiting before older changes of a topic give way to its newest
  std::size_t window = 20;          ///< unacknowledged at a time; the client library searches them linearly
};

/// One message as it is handed to the broker, QoS 1.
struct Outgoing {
  std::uint64_t id = 0; ///< grows by one with every message taken; 0 is never given
  std::string topic, payload;
  bool retained = false;
};

/// What is to be published, in which order, and what of it the broker has not acknowledged. Four kinds:
/// a *measurement* waits in a bounded queue; a *state* is retained, and only the latest of a topic is ever sent; a
/// *change* is retained too, but every one is sent, in order, unless more wait than the limit: then only the latest of
/// each topic stays. After a reconnect everything unacknowledged goes out again in its order (at least once), and the
/// latest of every retained topic, because a restarted broker has forgotten it. A *letter* is not retained and goes out
/// once, on the connection it was handed in on: whoever sends it is told what came of it, and keeps it. Changes and
/// states go first, then letters, then measurements. Holds no lock and no clock: the caller has them.
class Outbox {
public:
  explicit Outbox(OutboxLimits limits) : limits_{limits} {}

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

  [[nodiscard]] std::size_t waiting() const; ///< accepted and not acknowledged
  [[nodiscard]] std::uint64_t dropped_measurements() const { return dropped_; }
  [[nodiscard]] std::uint64_t published() const { return published_; } ///< acknowledged by a broker

private:
  enum class Kind { measurement, state, change, letter };
  struct Message {
    Kind kind = Kind::measurement;
    std::string topic, payload;
    std::function<void(bool)> settled = {}; ///< of letters
  };
  struct Latest {
    std::string payload;
    std::uint64_t order = 0; ///< of its last change
  };
  void remember(const std::string& topic, const std::string& payload);
  void keep_newest_changes();
  void bound_measurements();

  OutboxLimits limits_;
  bool connected_ = false;
  std::deque<Message> retained_;               ///< states and changes that are due
  std::deque<Message> letters_, measurements_; ///< oldest first
  std::map<std::uint64_t, Message> in_flight_;
  std::map<std::string, Latest> latest_;
  std::uint64_t last_id_ = 0, last_order_ = 0, dropped_ = 0, published_ = 0;
};

} // namespace oxherd::daemon
