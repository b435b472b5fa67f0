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

struct ConnectionSettings {
  BrokerAddress broker;
  TlsFiles tls;
  std::string client_id;
  std::optional<std::string> user, password;
  std::string status_topic; ///< its last will is "offline", retained
  std::chrono::seconds keep_alive{15};
  std::chrono::seconds connect_timeout{5};
};

struct ConnectionEvent {
  enum class Kind { connected, refused, lost, acknowledged, undelivered };
  Kind kind = Kind::lost;
  int delivery = 0;  ///< of `acknowledged` and `undelivered`; see Connection::settled
  std::string words; ///< why, of `refused` and `lost`; empty when only the network can tell
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
  [[nodiscard]] std::optional<std::uint64_t> settled(int delivery);

private:
  class Client;
  std::unique_ptr<Client> client_;
};

} // namespace oxherd::daemon
