#pragma once

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "daemon/mqtt/broker_address.hpp"
#include "daemon/mqtt/outbox.hpp"
#include "daemon/mqtt/tls_explain.hpp"

namespace oxherd::daemon {

/// What the broker publishes in our place when the connection breaks, QoS 1.
struct Will {
  std::string topic, payload;
  bool retained = false;
};

struct ConnectionSettings {
  BrokerAddress broker;
  TlsFiles tls;
  std::string client_id;
  std::optional<std::string> user, password;
  Will will;
  std::chrono::seconds keep_alive{15};
  std::chrono::seconds connect_timeout{5};
};

struct ConnectionEvent {
  /// `acknowledged` of a message with QoS 0 says that it has left. `received`: somebody published to what is
  /// subscribed.
  enum class Kind { connected, refused, lost, acknowledged, undelivered, subscribed, not_subscribed, received };
  Kind kind = Kind::lost;
  std::uint64_t delivery = 0; ///< of `acknowledged` and `undelivered`; see Connection::settled
  std::string words;          ///< why, of `refused` and `lost`; empty when only the network can tell
  std::string payload;        ///< of `received`
};

/// One attempt to connect and the connection that comes of it; for the next attempt a new object is made, so that
/// nothing stale of the old one can be sent. Used from one thread, which holds no lock meanwhile: the library calls
/// `post` on a thread of its own, under its own lock. None of the calls waits for the broker.
class Connection {
public:
  Connection(const ConnectionSettings& settings, std::function<void(ConnectionEvent)> post);
  ~Connection();
  Connection(const Connection&) = delete;
  Connection& operator=(const Connection&) = delete;

  /// Hands over one message. False: it was not taken and the connection is of no more use.
  [[nodiscard]] bool publish(const Outgoing& message);
  /// The message that a delivery event is about; each delivery can be asked for once.
  [[nodiscard]] std::optional<std::uint64_t> settled(std::uint64_t delivery);
  /// Asks for what others publish there, with QoS 1; `subscribed` or `not_subscribed` follows. False as above.
  [[nodiscard]] bool subscribe(const std::string& topic);

private:
  class Client;
  std::unique_ptr<Client> client_;
};

} // namespace oxherd::daemon
