#pragma once

#include <chrono>
#include <cstdint>
#include <string>
#include <vector>

#include <poll.h>

#include "demo/descriptor.hpp"
#include "demo/devices.hpp"

namespace oxherd::demo {

/// The bus "plant": Modbus TCP on the loopback interface for any number of clients. One thread only.
class TcpServer {
public:
  /// Listens on 127.0.0.1. Port 0 takes a free one.
  /// @throws std::runtime_error, which names the port
  TcpServer(Devices& devices, std::uint16_t port);
  [[nodiscard]] std::uint16_t port() const { return port_; }
  [[nodiscard]] std::size_t clients() const { return clients_.size(); }

  void add_to(std::vector<pollfd>& waiting) const; ///< the descriptors to wait on
  /// Accepts, reads and answers whatever is ready. Never blocks. A client that breaks the protocol, or does not take
  /// its replies, is closed.
  void serve(OutputModule::Monotonic now);

private:
  struct Client {
    Descriptor socket;
    Bytes waiting;
  };
  void accept_new();
  [[nodiscard]] bool read_from(Client& client, OutputModule::Monotonic now);
  [[nodiscard]] bool answer_all(Client& client, OutputModule::Monotonic now);

  Devices* devices_;
  Descriptor listener_;
  std::uint16_t port_ = 0;
  std::vector<Client> clients_;
};

} // namespace oxherd::demo
