#include "drivers/tcp_connect.hpp"

#include <cerrno>
#include <memory>
#include <system_error>

#include <fmt/core.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>

namespace oxherd::drivers {

namespace {

struct FreeAddresses {
  void operator()(addrinfo* list) const { ::freeaddrinfo(list); }
};

BusError unreachable(std::string detail) { return {BusFault::not_connected, 0, std::move(detail)}; }

std::string reason_in_words(int error) {
  switch (error) {
  case ECONNREFUSED: return "connection refused: the host is there, but nothing listens at this port";
  case EHOSTUNREACH:
  case ENETUNREACH: return "no route to the host: look at the address, the cable and the network settings";
  case EMFILE:
  case ENFILE: return "this program has no file descriptor left";
  default: return "cannot connect: " + std::generic_category().message(error);
  }
}

/// One attempt at one address. The socket is returned connected.
tl::expected<FileDescriptor, BusError> try_address(const addrinfo& to, const StopEvent& stop, Deadline deadline) {
  FileDescriptor fd{::socket(to.ai_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, IPPROTO_TCP)};
  if (!fd.is_open()) return tl::unexpected(unreachable(reason_in_words(errno)));
  // Without this a request could wait for the acknowledgement of the last reply. Failing costs speed only.
  const int on = 1;
  static_cast<void>(::setsockopt(fd.get(), IPPROTO_TCP, TCP_NODELAY, &on, sizeof on));
  if (::connect(fd.get(), to.ai_addr, to.ai_addrlen) == 0) return fd;
  if (errno != EINPROGRESS) return tl::unexpected(unreachable(reason_in_words(errno)));
  switch (wait_until(fd.get(), POLLOUT, stop, deadline)) {
  case Waited::stopped: return tl::unexpected(unreachable("polling was stopped while connecting"));
  case Waited::timed_out:
    return tl::unexpected(unreachable("nobody answers at this address: is the device on, and the address right?"));
  case Waited::ready: break;
  }
  int error = 0;
  socklen_t size = sizeof error;
  if (::getsockopt(fd.get(), SOL_SOCKET, SO_ERROR, &error, &size) != 0) error = errno;
  if (error != 0) return tl::unexpected(unreachable(reason_in_words(error)));
  return fd;
}

} // namespace

std::string in_words(const TcpAddress& address) {
  const bool v6 = address.host.find(':') != std::string::npos;
  return v6 ? fmt::format("[{}]:{}", address.host, address.port) : fmt::format("{}:{}", address.host, address.port);
}

tl::expected<FileDescriptor, BusError> connect_tcp(const TcpAddress& address, const StopEvent& stop) {
  const auto deadline = std::chrono::steady_clock::now() + address.connect_timeout;
  addrinfo hints{};
  hints.ai_family = AF_UNSPEC;
  hints.ai_socktype = SOCK_STREAM;
  hints.ai_flags = AI_NUMERICSERV;
  addrinfo* found = nullptr;
  const int failure = ::getaddrinfo(address.host.c_str(), std::to_string(address.port).c_str(), &hints, &found);
  if (failure != 0)
    return tl::unexpected(unreachable(fmt::format("the name cannot be looked up ({}): correct it, or write the "
                                                  "numeric address",
                                                  ::gai_strerror(failure))));
  const std::unique_ptr<addrinfo, FreeAddresses> list{found};
  BusError last = unreachable("the name stands for no address");
  for (const addrinfo* to = list.get(); to != nullptr && !stop.is_set(); to = to->ai_next) {
    auto connected = try_address(*to, stop, deadline);
    if (connected) return connected;
    last = std::move(connected.error());
  }
  return tl::unexpected(std::move(last));
}

} // namespace oxherd::drivers
