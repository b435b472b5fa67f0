#pragma once

#include <array>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/steady_timer.hpp>

#include "daemon/collect/inbox.hpp"
#include "daemon/collect/mqtt_packet.hpp"
#include "daemon/collect/settings.hpp"
#include "daemon/http/connection.hpp"
#include "daemon/mqtt/broker_address.hpp"

namespace oxherd::daemon::collect {

/// One connection to the broker, from resolving its name to its end, which is told once. Lives while something of it is
/// pending. Runs on the thread of its loop alone.
class BrokerSession : public std::enable_shared_from_this<BrokerSession> {
public:
  struct Desk {
    std::function<bool(Delivery)> put; ///< false: no more until resume()
    std::function<void()> subscribed;
    std::function<void(const std::string& why)> ended; ///< empty: only the network can tell
  };
  BrokerSession(boost::asio::io_context& io, std::uint64_t number, const CollectSettings& settings,
                const BrokerAddress& address, Desk desk);

  void start();
  void acknowledge(const std::vector<Delivery>& stored);
  void resume();
  void leave(); ///< says goodbye once everything before it is written

private:
  void connected(boost::asio::ip::tcp::socket socket);
  [[nodiscard]] tl::expected<ConnectRequest, std::string> request() const;
  void read();
  void take_packets();
  [[nodiscard]] std::optional<std::string> handle(const ReceivedPacket& packet);
  void note_subscribed();
  void send(const std::string& bytes);
  void keep_alive();
  void end(const std::string& why);

  boost::asio::io_context& io_;
  const std::uint64_t number_;
  const CollectSettings& settings_;
  const BrokerAddress address_;
  Desk desk_;
  std::optional<boost::asio::ssl::context> tls_;
  boost::asio::ip::tcp::resolver resolver_;
  boost::asio::ip::tcp::socket socket_;
  boost::asio::steady_timer deadline_, beat_;
  std::unique_ptr<http::Connection> line_;
  std::array<char, 65536> chunk_{};
  std::string in_, out_, writing_;
  std::chrono::seconds keep_alive_;
  bool welcome_ = false, subscribed_ = false, paused_ = false, heard_ = false, ended_ = false, leaving_ = false;
};

} // namespace oxherd::daemon::collect
