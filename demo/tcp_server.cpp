#include "demo/tcp_server.hpp"

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>

#include <array>
#include <bit>
#include <cerrno>
#include <stdexcept>
#include <system_error>

namespace oxherd::demo {
namespace {

constexpr std::size_t header_size = 7; // transaction, protocol, length, unit: Modbus Messaging on TCP/IP V1.0b, 3.1.3
constexpr std::size_t clients_max = 64;

sockaddr_in loopback(std::uint16_t port) {
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(port);
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  return address;
}

} // namespace

TcpServer::TcpServer(Devices& devices, std::uint16_t port) : devices_{&devices} {
  const auto fail = [&](const char* what) {
    throw std::runtime_error(std::string{what} + " 127.0.0.1:" + std::to_string(port) + ": " +
                             std::error_code{errno, std::generic_category()}.message());
  };
  listener_ = Descriptor{::socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0)};
  if (!listener_.valid()) fail("cannot make a socket for");
  const int yes = 1;
  if (::setsockopt(listener_.get(), SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes) != 0) fail("cannot set up");
  sockaddr_in address = loopback(port);
  if (::bind(listener_.get(), reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0)
    fail("cannot listen at");
  if (::listen(listener_.get(), 16) != 0) fail("cannot listen at");
  socklen_t size = sizeof address;
  if (::getsockname(listener_.get(), reinterpret_cast<sockaddr*>(&address), &size) != 0) fail("cannot name");
  port_ = ntohs(address.sin_port);
}

void TcpServer::add_to(std::vector<pollfd>& waiting) const {
  waiting.push_back({listener_.get(), POLLIN, 0});
  for (const auto& client : clients_) waiting.push_back({client.socket.get(), POLLIN, 0});
}

void TcpServer::serve(OutputModule::Monotonic now) {
  accept_new();
  std::erase_if(clients_, [&](Client& client) { return !read_from(client, now); });
}

void TcpServer::accept_new() {
  for (;;) {
    Descriptor socket{::accept4(listener_.get(), nullptr, nullptr, SOCK_NONBLOCK | SOCK_CLOEXEC)};
    if (!socket.valid()) return;
    if (clients_.size() >= clients_max) continue; // closed again at once
    const int yes = 1;
    // Replies are small and awaited: do not hold them back. A failure here costs time only.
    static_cast<void>(::setsockopt(socket.get(), IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes));
    clients_.push_back({std::move(socket), {}});
  }
}

bool TcpServer::read_from(Client& client, OutputModule::Monotonic now) {
  std::array<std::uint8_t, 4096> buffer{};
  const auto n = ::recv(client.socket.get(), buffer.data(), buffer.size(), 0);
  if (n < 0) return errno == EAGAIN || errno == EINTR;
  if (n == 0) return false;
  client.waiting.insert(client.waiting.end(), buffer.begin(), buffer.begin() + n);
  return answer_all(client, now);
}

bool TcpServer::answer_all(Client& client, OutputModule::Monotonic now) {
  while (client.waiting.size() >= header_size) {
    const std::span<const std::uint8_t> all{client.waiting};
    const std::size_t length = word_at(all, 4); // counts the unit identifier too
    if (word_at(all, 2) != 0 || length < 2 || length > 254) return false;
    if (all.size() < 6 + length) return true;
    const auto reply = devices_->answer(Line::plant, all[6], all.subspan(header_size, length - 1), now);
    if (reply) {
      Bytes out{all.begin(), all.begin() + 4};
      append_word(out, static_cast<std::uint16_t>(reply->size() + 1));
      out.push_back(all[6]);
      out.insert(out.end(), reply->begin(), reply->end());
      const auto sent = ::send(client.socket.get(), out.data(), out.size(), MSG_NOSIGNAL);
      if (sent != std::ssize(out)) return false;
    }
    client.waiting.erase(client.waiting.begin(), client.waiting.begin() + static_cast<std::ptrdiff_t>(6 + length));
  }
  return true;
}

} // namespace oxherd::demo
