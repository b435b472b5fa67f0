#include <utility> // before Asio: std::exchange

#include "daemon/collect/broker_session.hpp"

#include <boost/asio/connect.hpp>
#include <boost/asio/io_context.hpp>

#include <fmt/core.h>

#include "daemon/clock.hpp"
#include "daemon/mqtt/password_file.hpp"

namespace oxherd::daemon::collect {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

/// From the first step to the broker's answer to the subscription.
constexpr std::chrono::seconds patience{10};
constexpr std::uint16_t subscription_id = 1;
/// What a broker may send: a pack of some ten thousand records.
constexpr std::uint32_t largest_packet_bytes = 4 << 20;
/// Enough that the broker goes on sending while a batch is written, and for 64 MiB of the largest usual packs.
constexpr std::uint16_t unacknowledged_most = 2000;

SampleTime now() { return std::chrono::time_point_cast<std::chrono::microseconds>(std::chrono::system_clock::now()); }

asio::ssl::context tls_context(const config::Mqtt& mqtt) {
  asio::ssl::context tls{asio::ssl::context::tls_client};
  tls.set_options(asio::ssl::context::default_workarounds | asio::ssl::context::no_tlsv1 |
                  asio::ssl::context::no_tlsv1_1);
  if (mqtt.ca_file)
    tls.load_verify_file(*mqtt.ca_file);
  else
    tls.set_default_verify_paths();
  if (mqtt.certificate_file) tls.use_certificate_chain_file(*mqtt.certificate_file);
  if (mqtt.key_file) tls.use_private_key_file(*mqtt.key_file, asio::ssl::context::pem);
  return tls;
}

} // namespace

BrokerSession::BrokerSession(asio::io_context& io, std::uint64_t number, const CollectSettings& settings,
                             const BrokerAddress& address, Desk desk)
    : io_{io}, number_{number}, settings_{settings}, address_{address}, desk_{std::move(desk)}, resolver_{io},
      socket_{io}, deadline_{io}, beat_{io}, keep_alive_{settings.mqtt.keep_alive} {}

void BrokerSession::start() {
  const auto me = shared_from_this();
  deadline_.expires_after(patience);
  deadline_.async_wait([me](error_code ec) {
    if (!ec) me->end(me->welcome_ ? "the broker does not answer the subscription" : "");
  });
  resolver_.async_resolve(address_.host, std::to_string(address_.port),
                          [me](error_code ec, const tcp::resolver::results_type& found) {
                            if (ec || me->ended_) return me->end("");
                            asio::async_connect(me->socket_, found, [me](error_code failed, const tcp::endpoint&) {
                              if (failed || me->ended_) return me->end("");
                              me->connected(std::move(me->socket_));
                            });
                          });
}

void BrokerSession::connected(tcp::socket socket) {
  const auto connect = request();
  if (!connect) return end(connect.error());
  try {
    error_code ignored;
    socket.set_option(tcp::no_delay{true}, ignored);
    if (address_.tls) tls_.emplace(tls_context(settings_.mqtt));
    line_ = http::make_client_connection(std::move(socket), tls_ ? &*tls_ : nullptr, address_.host);
  } catch (const boost::system::system_error& e) {
    return end(fmt::format("the files of mqtt.ca_file, certificate_file or key_file cannot be used: {}", e.what()));
  }
  line_->shake_hands([me = shared_from_this(), packet = connect_packet(*connect)](error_code ec) {
    if (ec || me->ended_) return me->end("");
    me->send(packet);
    me->read();
  });
}

tl::expected<ConnectRequest, std::string> BrokerSession::request() const {
  ConnectRequest request;
  const auto& mqtt = settings_.mqtt;
  request.client_id = mqtt.client_id;
  request.user = mqtt.user;
  if (mqtt.password_file) {
    auto password = read_password(*mqtt.password_file);
    if (!password) return tl::unexpected(password.error());
    request.password = std::move(*password);
  }
  request.keep_alive_s = static_cast<std::uint16_t>(keep_alive_.count());
  request.session_kept_s = static_cast<std::uint32_t>(settings_.session_kept.count());
  request.unacknowledged_most = unacknowledged_most;
  request.packet_max_bytes = largest_packet_bytes;
  return request;
}

void BrokerSession::read() {
  if (ended_ || paused_) return;
  line_->read_some(chunk_, [me = shared_from_this()](error_code ec, std::size_t count) {
    if (me->ended_) return;
    if (ec) return me->end(me->welcome_ ? fmt::format("the connection broke: {}", ec.message()) : "");
    me->heard_ = true;
    me->in_.append(me->chunk_.data(), count);
    me->take_packets();
    me->read();
  });
}

void BrokerSession::take_packets() {
  std::string_view rest{in_};
  while (!ended_) {
    const auto decoded = decode_packet(rest, largest_packet_bytes);
    if (!decoded) return end(decoded.error());
    if (!*decoded) break;
    rest.remove_prefix((*decoded)->used);
    if (const auto trouble = handle((*decoded)->packet)) return end(*trouble);
  }
  in_.erase(0, in_.size() - rest.size());
}

std::optional<std::string> BrokerSession::handle(const ReceivedPacket& packet) {
  if (const auto* welcome = std::get_if<ConnectAnswer>(&packet)) {
    if (welcome->reason != 0) return words_of_reason(welcome->reason);
    welcome_ = true;
    if (welcome->keep_alive_s && *welcome->keep_alive_s > 0) keep_alive_ = std::chrono::seconds{*welcome->keep_alive_s};
    send(subscribe_packet(subscription_id, topic_filters(settings_)));
    keep_alive();
  } else if (const auto* answer = std::get_if<SubscribeAnswer>(&packet)) {
    for (const int reason : answer->reasons)
      if (reason >= 0x80) return fmt::format("the subscription is refused: {}", words_of_reason(reason));
    note_subscribed();
  } else if (const auto* message = std::get_if<PublishedMessage>(&packet)) {
    note_subscribed(); // a kept session: what waited goes before the answer to the subscription
    if (!desk_.put({number_, message->id, message->retained, message->topic, message->payload, now()})) paused_ = true;
  } else if (const auto* goodbye = std::get_if<Goodbye>(&packet)) {
    return words_of_reason(goodbye->reason);
  }
  return std::nullopt;
}

void BrokerSession::note_subscribed() {
  if (std::exchange(subscribed_, true)) return;
  deadline_.cancel();
  desk_.subscribed();
}

void BrokerSession::acknowledge(const std::vector<Delivery>& stored) {
  std::vector<std::uint16_t> ids;
  for (const auto& one : stored)
    if (one.connection == number_ && one.id != 0) ids.push_back(one.id);
  if (!ids.empty()) send(puback_packets(ids));
}

void BrokerSession::resume() {
  if (!std::exchange(paused_, false)) return;
  take_packets();
  read();
}

void BrokerSession::leave() {
  leaving_ = true;
  if (!welcome_ || ended_) return end({});
  send(disconnect_packet());
}

void BrokerSession::send(const std::string& bytes) {
  if (ended_ || !line_) return;
  out_ += bytes;
  if (!writing_.empty()) return;
  writing_.swap(out_);
  line_->write(writing_, [me = shared_from_this()](error_code ec) {
    me->writing_.clear();
    if (ec) return me->end(fmt::format("the connection broke: {}", ec.message()));
    if (!me->out_.empty()) return me->send({});
    if (me->leaving_) me->end({});
  });
}

void BrokerSession::keep_alive() {
  beat_.expires_after(keep_alive_ / 2);
  beat_.async_wait([me = shared_from_this()](error_code ec) {
    if (ec || me->ended_) return;
    // While nothing is read, nothing can be heard: only the broker can miss something then.
    if (!std::exchange(me->heard_, false) && !me->paused_) return me->end("the broker has fallen silent");
    me->send(pingreq_packet());
    me->keep_alive();
  });
}

void BrokerSession::end(const std::string& why) {
  if (std::exchange(ended_, true)) return;
  deadline_.cancel();
  beat_.cancel();
  resolver_.cancel();
  error_code ignored;
  socket_.close(ignored);
  if (line_) line_->close();
  desk_.ended(why);
}

} // namespace oxherd::daemon::collect
