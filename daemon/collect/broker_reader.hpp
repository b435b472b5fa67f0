#pragma once

#include <atomic>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include <boost/asio/io_context.hpp>
#include <boost/asio/steady_timer.hpp>

#include "daemon/collect/inbox.hpp"
#include "daemon/collect/settings.hpp"
#include "daemon/mqtt/broker_address.hpp"

namespace oxherd::daemon::collect {

class BrokerSession;

struct BrokerHealth {
  bool connected = false; ///< and subscribed
  std::string trouble;    ///< why not, in words
  std::uint64_t received = 0;
};

/// Reads the sites' messages from the broker, on a thread of its own, and connects again for ever. The session is kept
/// by the broker while this program is away. What is not acknowledged comes again on the next connection.
class BrokerReader {
public:
  /// @param put  takes a message; false: no more until resume(). Called on the reader's thread.
  BrokerReader(const CollectSettings& settings, std::function<bool(Delivery)> put);
  ~BrokerReader();
  BrokerReader(const BrokerReader&) = delete;
  BrokerReader& operator=(const BrokerReader&) = delete;

  void start();
  void acknowledge(std::vector<Delivery> stored); ///< any thread; all of one connection or not
  void resume();                                  ///< any thread
  void stop();                                    ///< says goodbye with what is acknowledged until now
  [[nodiscard]] BrokerHealth health() const;      ///< any thread

private:
  friend class BrokerSession;
  void connect();
  void try_again(const std::string& why);
  void note(bool connected, const std::string& trouble);

  const CollectSettings settings_;
  const std::function<bool(Delivery)> put_;
  std::optional<BrokerAddress> address_;
  mutable std::mutex mutex_; ///< guards health_
  BrokerHealth health_;
  std::atomic<std::uint64_t> received_{0};
  std::uint64_t connections_ = 0; ///< from here on: of the reader's thread
  std::chrono::milliseconds pause_{0};
  bool stopping_ = false;
  boost::asio::io_context io_{1};
  boost::asio::steady_timer retry_{io_};
  std::shared_ptr<BrokerSession> session_;
  std::thread thread_;
};

} // namespace oxherd::daemon::collect
