#include "tests/drivers/scripted_peer.hpp"

#include <array>
#include <chrono>
#include <memory>
#include <stdexcept>

#include <arpa/inet.h>
#include <poll.h>
#include <pty.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

namespace oxherd::drivers_test {

using drivers::FileDescriptor;
using drivers::Waited;

namespace {

/// Reads exactly one request; empty when the connection is gone or the peer stops. Function 16 says how many bytes of
/// values follow.
/// @param function_at  where the function code lies
/// @param size         of the other functions' requests
Bytes read_request(int fd, std::size_t function_at, std::size_t size, const drivers::StopEvent& stop) {
  Bytes request(size);
  std::size_t filled = 0;
  int stage = 0; // of function 16: 1 the count of bytes is there as well, 2 so are they
  while (filled < size) {
    const auto soon = std::chrono::steady_clock::now() + std::chrono::hours{1};
    if (wait_until(fd, POLLIN, stop, soon) != Waited::ready) return {};
    const auto got = ::read(fd, request.data() + filled, size - filled);
    if (got <= 0) return {};
    filled += static_cast<std::size_t>(got);
    if (stage == 2 || filled < size || request[function_at] != 16) continue;
    size += stage == 0 ? std::size_t{1} : request[function_at + 5];
    request.resize(size);
    ++stage;
  }
  return request;
}

} // namespace

void send_all(int fd, const Bytes& bytes) {
  // A client that has closed is part of some scripts. MSG_NOSIGNAL is for sockets only, so try that first.
  if (::send(fd, bytes.data(), bytes.size(), MSG_NOSIGNAL) < 0 && errno == ENOTSOCK)
    if (::write(fd, bytes.data(), bytes.size()) < 0) return;
}

Step answer(Bytes bytes) {
  return [bytes = std::move(bytes)](int fd, const Bytes&) {
    send_all(fd, bytes);
    return true;
  };
}

Step stay_silent() {
  return [](int, const Bytes&) { return true; };
}

Step hang_up_after(Bytes bytes) {
  return [bytes = std::move(bytes)](int fd, const Bytes&) {
    send_all(fd, bytes);
    return false;
  };
}

bool Script::act(int fd, const Bytes& request) {
  std::unique_lock lock{mutex_};
  const Step step = steps_.at(std::min(received_.size(), steps_.size() - 1));
  received_.push_back(request);
  changed_.notify_all();
  lock.unlock();
  return step(fd, request);
}

std::vector<Bytes> Script::wait_for_requests(std::size_t count) {
  std::unique_lock lock{mutex_};
  changed_.wait_for(lock, std::chrono::seconds{5}, [&] { return received_.size() >= count; });
  return received_;
}

ScriptedTcpServer::ScriptedTcpServer(std::vector<Step> steps)
    : script_{std::move(steps)}, listener_{::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)} {
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  socklen_t size = sizeof address;
  auto* generic = reinterpret_cast<sockaddr*>(&address);
  if (::bind(listener_.get(), generic, size) != 0 || ::listen(listener_.get(), 8) != 0 ||
      ::getsockname(listener_.get(), generic, &size) != 0)
    throw std::runtime_error{"no loopback port"};
  port_ = ntohs(address.sin_port);
  thread_ = std::thread{[this] { serve(); }};
}

ScriptedTcpServer::~ScriptedTcpServer() {
  stop_.set();
  thread_.join();
}

void ScriptedTcpServer::serve() {
  while (wait_until(listener_.get(), POLLIN, stop_, std::chrono::steady_clock::now() + std::chrono::hours{1}) ==
         Waited::ready) {
    const FileDescriptor client{::accept4(listener_.get(), nullptr, nullptr, SOCK_CLOEXEC)};
    if (!client.is_open()) continue;
    ++connections_;
    serve_connection(client.get());
  }
}

void ScriptedTcpServer::serve_connection(int fd) {
  for (;;) {
    const Bytes request = read_request(fd, 7, 12, stop_);
    if (request.empty() || !script_.act(fd, request)) return;
  }
}

ScriptedLine::ScriptedLine(std::vector<Step> steps) : script_{std::move(steps)} {
  int devices_end = -1;
  int masters_end = -1;
  std::array<char, 128> name{};
  termios settings{};
  ::cfmakeraw(&settings);
  if (::openpty(&devices_end, &masters_end, name.data(), &settings, nullptr) != 0)
    throw std::runtime_error{"no pseudo terminal"};
  line_ = FileDescriptor{devices_end};
  device_ = name.data();
  // The other end stays open for as long as the thread waits, or reading here would fail before anybody opens it.
  thread_ = std::thread{[this, keep = std::make_shared<FileDescriptor>(masters_end)] { serve(); }};
}

ScriptedLine::~ScriptedLine() { unplug(); }

void ScriptedLine::unplug() {
  stop_.set();
  if (thread_.joinable()) thread_.join();
  line_.reset();
}

void ScriptedLine::serve() {
  for (;;) {
    const Bytes request = read_request(line_.get(), 1, 8, stop_);
    if (request.empty() || !script_.act(line_.get(), request)) return;
  }
}

} // namespace oxherd::drivers_test
