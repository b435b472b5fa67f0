#pragma once

#include <functional>
#include <memory>
#include <span>
#include <string>

#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ssl/context.hpp>

namespace oxherd::daemon::http {

/// A stream to somebody, in clear or by TLS. Lives while an operation of it is pending. One thread.
class Connection {
public:
  using Read = std::function<void(boost::system::error_code, std::size_t)>;
  using Done = std::function<void(boost::system::error_code)>;
  virtual ~Connection() = default;
  virtual void shake_hands(Done done) = 0;
  virtual void read_some(std::span<char> into, Read done) = 0;
  virtual void write(std::string_view text, Done done) = 0; ///< `text` lives until `done`
  virtual void close() = 0;                                 ///< pending operations end with an error
  [[nodiscard]] virtual boost::asio::ip::tcp::socket& socket() = 0;
};

/// @param tls  null: in clear
[[nodiscard]] std::unique_ptr<Connection> make_connection(boost::asio::ip::tcp::socket socket,
                                                          boost::asio::ssl::context* tls);
/// The other end: the certificate must be of this name, or address. @throws boost::system::system_error
[[nodiscard]] std::unique_ptr<Connection> make_client_connection(boost::asio::ip::tcp::socket socket,
                                                                 boost::asio::ssl::context* tls,
                                                                 const std::string& server_name);

} // namespace oxherd::daemon::http
