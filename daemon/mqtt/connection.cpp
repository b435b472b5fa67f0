#include "daemon/mqtt/connection.hpp"

#include <map>
#include <utility>

#include <mqtt/async_client.h>

#include <fmt/core.h>

namespace oxherd::daemon {
namespace {

mqtt::create_options client_options() {
  mqtt::create_options options{MQTTVERSION_3_1_1};
  options.set_send_while_disconnected(false); // what waits, waits in the outbox, where it is bounded and counted
  options.set_max_buffered_messages(100);     // holds while connected too; above the outbox's window
  return options;
}

std::string client_uri(const BrokerAddress& broker) {
  const bool ipv6 = broker.host.find(':') != std::string::npos;
  return fmt::format("{}://{}{}{}:{}", broker.tls ? "ssl" : "tcp", ipv6 ? "[" : "", broker.host, ipv6 ? "]" : "",
                     broker.port);
}

mqtt::ssl_options tls_options(const TlsFiles& files) {
  mqtt::ssl_options options;
  if (files.ca_file) options.set_trust_store(*files.ca_file);
  if (files.certificate_file) options.set_key_store(*files.certificate_file);
  if (files.key_file) options.set_private_key(*files.key_file);
  options.set_enable_server_cert_auth(true);
  options.set_verify(true); // without it a certificate for any other name is taken
  // No TLS below 1.2, whatever the machine's settings permit: the library can set no least version, but at this level
  // OpenSSL 3 has no signature for an older one (SSL_CTX_set_security_level(3)).
  options.set_enabled_cipher_suites("DEFAULT:@SECLEVEL=2");
  return options;
}

/// A number as the context that the library hands back with what became of a message.
void* as_context(std::uint64_t number) { return reinterpret_cast<void*>(static_cast<std::uintptr_t>(number)); }
std::uint64_t number_in(const mqtt::token& token) {
  return static_cast<std::uint64_t>(reinterpret_cast<std::uintptr_t>(token.get_user_context()));
}

/// MQTT 3.1.1, table 3.1: what the broker says when it answers and refuses.
std::string connack_words(int code) {
  switch (code) {
  case 1: return "the broker does not speak MQTT 3.1.1";
  case 2: return "the broker refuses this client identifier; give another one in mqtt.client_id";
  case 3: return "the broker says that it is not available at present";
  case 4: return "the broker refuses the user name or the password";
  case 5: return "the broker does not permit this client to connect; check mqtt.user and mqtt.password_file";
  default: return {};
  }
}

} // namespace

class Connection::Client {
public:
  Client(const ConnectionSettings& settings, std::function<void(ConnectionEvent)> post) : post_{std::move(post)} {
    mqtt::connect_options options;
    options.set_mqtt_version(MQTTVERSION_3_1_1); // the default tries 3.1 after it and doubles the timeout
    options.set_clean_session(true);
    options.set_keep_alive_interval(settings.keep_alive);
    options.set_connect_timeout(settings.connect_timeout);
    options.set_automatic_reconnect(false);
    options.set_max_inflight(50);
    options.set_will(mqtt::will_options{settings.will.topic, settings.will.payload, 1, settings.will.retained});
    if (settings.user) options.set_user_name(*settings.user);
    if (settings.password) options.set_password(*settings.password);
    if (settings.broker.tls) options.set_ssl(tls_options(settings.tls));
    try {
      library_.emplace(client_uri(settings.broker), settings.client_id, client_options());
      library_->set_connection_lost_handler([this](const std::string& cause) {
        post_({ConnectionEvent::Kind::lost, 0, cause.empty() ? "the broker closed the connection" : cause, {}});
      });
      library_->set_message_callback([this](const mqtt::const_message_ptr& message) {
        post_({ConnectionEvent::Kind::received, 0, {}, message->to_string()});
      });
      connect_token_ = library_->connect(options, nullptr, connecting_);
    } catch (const mqtt::exception& e) {
      post_({ConnectionEvent::Kind::refused, 0, e.what(), {}});
    }
  }

  bool publish(const Outgoing& message) {
    if (!library_) return false; // its constructor threw, and `refused` was posted
    try {
      const auto sent = mqtt::make_message(message.topic, message.payload, message.qos, message.retained);
      const auto delivery = ++last_delivery_; // of our own: with QoS 0 the library has no number
      auto token = library_->publish(sent, as_context(delivery), delivering_);
      deliveries_[delivery] = {message.id, std::move(token)};
      return true;
    } catch (const mqtt::exception&) {
      return false;
    }
  }

  bool subscribe(const std::string& topic) {
    if (!library_) return false;
    try {
      subscribe_token_ = library_->subscribe(topic, 1, nullptr, subscribing_);
      return true;
    } catch (const mqtt::exception&) {
      return false;
    }
  }

  std::optional<std::uint64_t> settled(std::uint64_t delivery) {
    const auto found = deliveries_.find(delivery);
    if (found == deliveries_.end()) return std::nullopt;
    const auto id = found->second.id;
    settled_token_ = std::move(found->second.token);
    deliveries_.erase(found);
    return id;
  }

private:
  struct Connecting : mqtt::iaction_listener {
    explicit Connecting(Client& owner) : client{owner} {}
    void on_success(const mqtt::token& /*token*/) override {
      client.post_({ConnectionEvent::Kind::connected, 0, {}, {}});
    }
    void on_failure(const mqtt::token& token) override {
      client.post_({ConnectionEvent::Kind::refused, 0, connack_words(token.get_return_code()), {}});
    }
    Client& client;
  };
  struct Delivering : mqtt::iaction_listener {
    explicit Delivering(Client& owner) : client{owner} {}
    void on_success(const mqtt::token& token) override {
      client.post_({ConnectionEvent::Kind::acknowledged, number_in(token), {}, {}});
    }
    void on_failure(const mqtt::token& token) override {
      client.post_({ConnectionEvent::Kind::undelivered, number_in(token), {}, {}});
    }
    Client& client;
  };
  struct Subscribing : mqtt::iaction_listener {
    explicit Subscribing(Client& owner) : client{owner} {}
    void on_success(const mqtt::token& /*token*/) override {
      client.post_({ConnectionEvent::Kind::subscribed, 0, {}, {}});
    }
    void on_failure(const mqtt::token& /*token*/) override {
      client.post_({ConnectionEvent::Kind::not_subscribed, 0, {}, {}});
    }
    Client& client;
  };

  std::function<void(ConnectionEvent)> post_;
  struct Delivery {
    std::uint64_t id = 0;
    mqtt::delivery_token_ptr token;
  };
  std::map<std::uint64_t, Delivery> deliveries_;
  std::uint64_t last_delivery_ = 0;
  // The library's thread still works on a token while it tells us of it, and is done with it by the time that it tells
  // of the next. So each is kept until then, and those of the end until the library is gone.
  mqtt::delivery_token_ptr settled_token_;
  mqtt::token_ptr connect_token_, subscribe_token_;
  Connecting connecting_{*this};
  Delivering delivering_{*this};
  Subscribing subscribing_{*this};
  std::optional<mqtt::async_client> library_; // last: it calls the others until it is gone
};

Connection::Connection(const ConnectionSettings& settings, std::function<void(ConnectionEvent)> post)
    : client_{std::make_unique<Client>(settings, std::move(post))} {}
Connection::~Connection() = default; // closes with DISCONNECT, so that no will is sent
bool Connection::publish(const Outgoing& message) { return client_->publish(message); }
std::optional<std::uint64_t> Connection::settled(std::uint64_t delivery) { return client_->settled(delivery); }
bool Connection::subscribe(const std::string& topic) { return client_->subscribe(topic); }

} // namespace oxherd::daemon
