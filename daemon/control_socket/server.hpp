#pragma once

#include <filesystem>
#include <functional>
#include <memory>
#include <string>

#include <boost/asio/io_context.hpp>

#include "daemon/control_socket/peer.hpp"

namespace oxherd::daemon {

/// Answers one request; may be called later and from any thread, once.
using Reply = std::function<void(std::string answer)>;
/// Takes one request line and who sent it, on the loop's thread.
using RequestHandler = std::function<void(std::string request, const Peer& peer, Reply reply)>;

/// The Unix socket of the state directory: one line of JSON in, one line out, then closed. Mode 0660, and the
/// kernel's word for who is at the other end: root, the daemon's account and the socket's group may ask. At most 32
/// connections, 64 KiB a request, 10 s to send it. All of it runs on the given loop.
class ControlServer {
public:
  /// @throws std::runtime_error naming the path and the reason when the socket cannot be made
  ControlServer(boost::asio::io_context& loop, const std::filesystem::path& path, RequestHandler handler);
  ~ControlServer(); ///< closes and removes the socket
  ControlServer(const ControlServer&) = delete;
  ControlServer& operator=(const ControlServer&) = delete;

private:
  class Listener;
  std::shared_ptr<Listener> listener_;
};

} // namespace oxherd::daemon
