#include <utility> // before Asio: std::exchange

#include "daemon/http/connection.hpp"

#include <boost/asio/ssl/host_name_verification.hpp>
#include <boost/asio/ssl/stream.hpp>
#include <boost/asio/write.hpp>

namespace oxherd::daemon::http {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

class PlainConnection : public Connection {
public:
  explicit PlainConnection(tcp::socket socket) : socket_{std::move(socket)} {}
  void shake_hands(Done done) override { done({}); }
  void read_some(std::span<char> into, Read done) override {
    socket_.async_read_some(asio::buffer(into.data(), into.size()), std::move(done));
  }
  void write(std::string_view text, Done done) override {
    asio::async_write(socket_, asio::buffer(text.data(), text.size()),
                      [done = std::move(done)](error_code ec, std::size_t) { done(ec); });
  }
  void close() override {
    error_code ignored;
    socket_.shutdown(tcp::socket::shutdown_both, ignored);
    socket_.close(ignored);
  }
  tcp::socket& socket() override { return socket_; }

private:
  tcp::socket socket_;
};

class TlsConnection : public Connection {
public:
  TlsConnection(tcp::socket socket, asio::ssl::context& tls) : stream_{std::move(socket), tls} {}
  TlsConnection(tcp::socket socket, asio::ssl::context& tls, const std::string& server_name)
      : stream_{std::move(socket), tls}, end_{asio::ssl::stream_base::client} {
    error_code not_numeric;
    static_cast<void>(asio::ip::make_address(server_name, not_numeric));
    if (not_numeric) { // names only (RFC 6066, 3); OpenSSL's macro for it has an old-style cast
      auto name = server_name;
      SSL_ctrl(stream_.native_handle(), SSL_CTRL_SET_TLSEXT_HOSTNAME, TLSEXT_NAMETYPE_host_name, name.data());
    }
    stream_.set_verify_mode(asio::ssl::verify_peer);
    stream_.set_verify_callback(asio::ssl::host_name_verification{server_name});
  }
  void shake_hands(Done done) override { stream_.async_handshake(end_, std::move(done)); }
  void read_some(std::span<char> into, Read done) override {
    stream_.async_read_some(asio::buffer(into.data(), into.size()), std::move(done));
  }
  void write(std::string_view text, Done done) override {
    asio::async_write(stream_, asio::buffer(text.data(), text.size()),
                      [done = std::move(done)](error_code ec, std::size_t) { done(ec); });
  }
  void close() override { // without TLS's own goodbye: lengths are always given, so nothing can be cut off unseen
    error_code ignored;
    socket().shutdown(tcp::socket::shutdown_both, ignored);
    socket().close(ignored);
  }
  tcp::socket& socket() override { return stream_.next_layer(); }

private:
  asio::ssl::stream<tcp::socket> stream_;
  asio::ssl::stream_base::handshake_type end_ = asio::ssl::stream_base::server;
};

} // namespace

std::unique_ptr<Connection> make_connection(tcp::socket socket, asio::ssl::context* tls) {
  if (tls == nullptr) return std::make_unique<PlainConnection>(std::move(socket));
  return std::make_unique<TlsConnection>(std::move(socket), *tls);
}

std::unique_ptr<Connection> make_client_connection(tcp::socket socket, asio::ssl::context* tls,
                                                   const std::string& server_name) {
  if (tls == nullptr) return std::make_unique<PlainConnection>(std::move(socket));
  return std::make_unique<TlsConnection>(std::move(socket), *tls, server_name);
}

} // namespace oxherd::daemon::http
