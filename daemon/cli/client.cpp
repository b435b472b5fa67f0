#include "daemon/cli/client.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>

#include <fmt/core.h>
#include <poll.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

namespace oxherd::daemon::cli {
namespace {

using Clock = std::chrono::steady_clock;

/// A descriptor that closes itself.
class Descriptor {
public:
  explicit Descriptor(int fd) : fd_{fd} {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() {
    if (fd_ >= 0) close(fd_);
  }
  [[nodiscard]] int get() const { return fd_; }

private:
  int fd_;
};

ClientError broken(std::string what) { return {Unanswered::broken, std::move(what)}; }

ClientError not_connected(int error, const std::filesystem::path& state_dir) {
  if (error == EACCES || error == EPERM)
    return {Unanswered::no_access, fmt::format("no permission for {}: run this as a member of the group that owns it",
                                               (state_dir / "control.sock").string())};
  if (error == EAGAIN) return broken("the daemon is too busy to take the request: try again");
  return {Unanswered::no_daemon, fmt::format("no oxherd daemon answers in {}: is it running? start it with `oxherd run "
                                             "--config FILE`, or give its --state-dir",
                                             state_dir.string())};
}

/// Waits until the socket can be read or written; false when the time is up.
bool wait_for(int fd, short events, Clock::time_point end) {
  for (;;) {
    const auto left = std::chrono::duration_cast<std::chrono::milliseconds>(end - Clock::now()).count();
    pollfd p{fd, events, 0};
    const int ready = poll(&p, 1, static_cast<int>(std::max<decltype(left)>(left, 0)));
    if (ready > 0) return true;
    if (ready == 0 || errno != EINTR) return false;
  }
}

ClientError too_late(ClientLimits limits) {
  return broken(fmt::format("the daemon did not answer within {} s: it may be stuck, look at its log",
                            static_cast<double>(limits.patience.count()) / 1e3));
}

tl::expected<void, ClientError> send_line(int fd, std::string line, Clock::time_point end, ClientLimits limits) {
  line += '\n';
  std::string_view rest = line;
  while (!rest.empty()) {
    if (!wait_for(fd, POLLOUT, end)) return tl::unexpected(too_late(limits));
    const ssize_t sent = send(fd, rest.data(), rest.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
    if (sent >= 0)
      rest.remove_prefix(static_cast<std::size_t>(sent));
    else if (errno != EAGAIN && errno != EINTR)
      return tl::unexpected(
          broken(fmt::format("the daemon hung up before the request was sent: {}", std::strerror(errno))));
  }
  return {};
}

tl::expected<std::string, ClientError> receive_line(int fd, Clock::time_point end, ClientLimits limits) {
  std::string answer;
  std::array<char, 65536> chunk{};
  for (;;) {
    if (!wait_for(fd, POLLIN, end)) return tl::unexpected(too_late(limits));
    const ssize_t got = recv(fd, chunk.data(), chunk.size(), MSG_DONTWAIT);
    if (got < 0 && (errno == EAGAIN || errno == EINTR)) continue;
    if (got <= 0)
      return tl::unexpected(broken(answer.empty() ? "the daemon closed the connection without an answer"
                                                  : "the daemon closed the connection in the middle of its answer"));
    const std::string_view part{chunk.data(), static_cast<std::size_t>(got)};
    const auto line_end = part.find('\n');
    answer += part.substr(0, line_end);
    if (answer.size() > limits.answer_bytes_max)
      return tl::unexpected(
          broken(fmt::format("the answer is longer than {} bytes: ask for less", limits.answer_bytes_max)));
    if (line_end != std::string_view::npos) return answer;
  }
}

} // namespace

tl::expected<std::string, ClientError> ask_daemon(const std::filesystem::path& state_dir, std::string_view request,
                                                  ClientLimits limits) {
  const auto end = Clock::now() + limits.patience;
  const std::string path = (state_dir / "control.sock").string();
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  if (path.size() >= sizeof address.sun_path)
    return tl::unexpected(broken(
        fmt::format("{} is too long for the name of a socket ({} characters at most): give a shorter --state-dir", path,
                    sizeof address.sun_path - 1)));
  path.copy(address.sun_path, path.size());
  const Descriptor fd{socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0)};
  if (fd.get() < 0) return tl::unexpected(broken(fmt::format("no socket could be made: {}", std::strerror(errno))));
  // The socket interface takes every kind of address through this one pointer type.
  if (connect(fd.get(), reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0)
    return tl::unexpected(not_connected(errno, state_dir));
  if (const auto sent = send_line(fd.get(), std::string{request}, end, limits); !sent)
    return tl::unexpected(sent.error());
  return receive_line(fd.get(), end, limits);
}

} // namespace oxherd::daemon::cli
