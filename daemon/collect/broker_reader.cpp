#include <utility> // before Asio: std::exchange

#include "daemon/collect/broker_reader.hpp"

#include <algorithm>

#include <boost/asio/post.hpp>

#include "daemon/collect/broker_session.hpp"
#include "daemon/log.hpp"
#include "daemon/mqtt/tls_explain.hpp"
#include "daemon/named_thread.hpp"

namespace oxherd::daemon::collect {
namespace {

namespace asio = boost::asio;

constexpr std::chrono::milliseconds pause_least{500}, pause_most{15'000};
constexpr std::chrono::milliseconds explain_patience{2000};

} // namespace

BrokerReader::BrokerReader(const CollectSettings& settings, std::function<bool(Delivery)> put)
    : settings_{settings}, put_{std::move(put)} {
  const auto address = parse_broker(settings_.mqtt.broker);
  if (address) address_ = *address; // the settings were checked
}

BrokerReader::~BrokerReader() { stop(); }

void BrokerReader::start() {
  asio::post(io_, [this] { connect(); });
  thread_ = named_thread("broker", [this] { io_.run(); });
}

void BrokerReader::stop() {
  if (!thread_.joinable()) return;
  asio::post(io_, [this] {
    stopping_ = true;
    retry_.cancel();
    if (session_) session_->leave();
    // A broker that does not take the goodbye is not waited for.
    retry_.expires_after(std::chrono::seconds{2});
    retry_.async_wait([this](const boost::system::error_code& ec) {
      if (!ec) io_.stop();
    });
    if (!session_) retry_.cancel();
  });
  thread_.join();
}

void BrokerReader::connect() {
  session_ = std::make_shared<BrokerSession>(
      io_, ++connections_, settings_, *address_,
      BrokerSession::Desk{[this](Delivery delivery) {
                            ++received_;
                            return put_(std::move(delivery));
                          },
                          [this] {
                            pause_ = {};
                            note(true, {});
                          },
                          [this](const std::string& why) { asio::post(io_, [this, why] { try_again(why); }); }});
  session_->start();
}

void BrokerReader::try_again(const std::string& why) {
  session_ = nullptr;
  if (stopping_) {
    retry_.cancel();
    return note(false, "the program stops");
  }
  auto words = why;
  if (words.empty())
    words =
        why_unreachable(*address_, {settings_.mqtt.ca_file, settings_.mqtt.certificate_file, settings_.mqtt.key_file},
                        explain_patience);
  note(false, words.empty() ? "the broker does not answer as an MQTT broker" : words);
  pause_ = std::clamp(pause_ * 2, pause_least, pause_most);
  retry_.expires_after(pause_);
  retry_.async_wait([this](const boost::system::error_code& ec) {
    if (!ec && !stopping_) connect();
  });
}

void BrokerReader::acknowledge(std::vector<Delivery> stored) {
  asio::post(io_, [this, stored = std::move(stored)] {
    if (session_) session_->acknowledge(stored);
  });
}

void BrokerReader::resume() {
  asio::post(io_, [this] {
    if (session_) session_->resume();
  });
}

void BrokerReader::note(bool connected, const std::string& trouble) {
  const std::lock_guard hold{mutex_};
  if (connected && !health_.connected) log::info("reading from the broker {}", settings_.mqtt.broker);
  if (!connected && !trouble.empty() && trouble != health_.trouble && !stopping_)
    log::error("nothing comes from the broker {}: {}", settings_.mqtt.broker, trouble);
  health_.connected = connected;
  health_.trouble = trouble;
}

BrokerHealth BrokerReader::health() const {
  const std::lock_guard hold{mutex_};
  auto health = health_;
  health.received = received_.load();
  return health;
}

} // namespace oxherd::daemon::collect
