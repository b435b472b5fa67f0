#include <array>
#include <cerrno>
#include <cstring>
#include <system_error>

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <fmt/core.h>

#include "daemon/notify/courier.hpp"

namespace oxherd::daemon::notify {
namespace {

std::string because_of(std::string_view what) {
  return fmt::format("{}: {}", what, std::generic_category().message(errno));
}

/// Closes what was opened, whichever way it ends.
struct Descriptor {
  explicit Descriptor(int opened) : number{opened} {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() {
    if (number >= 0) ::close(number);
  }
  int number;
};

std::optional<std::string> send_to(const sockaddr* to, socklen_t size, const std::string& payload,
                                   const std::string& name) {
  const Descriptor socket{::socket(to->sa_family, SOCK_DGRAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0)};
  if (socket.number < 0) return because_of("no socket");
  if (::connect(socket.number, to, size) != 0) return because_of(name);
  const auto sent = ::send(socket.number, payload.data(), payload.size(), MSG_NOSIGNAL);
  if (sent != static_cast<ssize_t>(payload.size())) return because_of(name);
  return std::nullopt;
}

} // namespace

std::optional<std::string> send_datagram(const config::SyslogRoute& route, const std::string& payload) {
  if (route.transport == config::SyslogRoute::Transport::unix_datagram) {
    sockaddr_un to{};
    to.sun_family = AF_UNIX;
    if (route.path.size() >= sizeof to.sun_path) return route.path + ": too long for a socket's name";
    std::memcpy(to.sun_path, route.path.data(), route.path.size());
    return send_to(reinterpret_cast<const sockaddr*>(&to), sizeof to, payload, route.path);
  }
  const auto name = fmt::format("udp://{}:{}", route.host, route.port);
  const std::string host = route.host == "localhost" ? "127.0.0.1" : route.host;
  sockaddr_in v4{};
  v4.sin_family = AF_INET;
  v4.sin_port = htons(static_cast<std::uint16_t>(route.port));
  if (::inet_pton(AF_INET, host.c_str(), &v4.sin_addr) == 1)
    return send_to(reinterpret_cast<const sockaddr*>(&v4), sizeof v4, payload, name);
  sockaddr_in6 v6{};
  v6.sin6_family = AF_INET6;
  v6.sin6_port = htons(static_cast<std::uint16_t>(route.port));
  if (::inet_pton(AF_INET6, host.c_str(), &v6.sin6_addr) == 1)
    return send_to(reinterpret_cast<const sockaddr*>(&v6), sizeof v6, payload, name);
  return name + ": not a numeric address";
}

/// Under another name first, so that a reader of the directory never sees half an alert.
std::optional<std::string> write_file(const config::CapFilesRoute& route, const Parcel& parcel) {
  const std::string file = fmt::format("{}/{}.cap.xml", route.directory, parcel.id);
  const std::string partial = fmt::format("{}/.{}.partial", route.directory, parcel.id);
  const Descriptor out{::open(partial.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0640)};
  if (out.number < 0) return because_of(partial);
  const auto written = ::write(out.number, parcel.payload.data(), parcel.payload.size());
  if (written != static_cast<ssize_t>(parcel.payload.size()) || ::fsync(out.number) != 0) return because_of(partial);
  if (::rename(partial.c_str(), file.c_str()) != 0) return because_of(file);
  return std::nullopt;
}

} // namespace oxherd::daemon::notify
