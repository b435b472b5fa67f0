#include "drivers/waiting.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdint>
#include <ctime>
#include <system_error>

#include <poll.h>
#include <sys/eventfd.h>
#include <unistd.h>

namespace oxherd::drivers {

void FileDescriptor::reset() {
  if (fd_ >= 0) ::close(std::exchange(fd_, -1));
}

StopEvent::StopEvent() : event_{::eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK)} {
  if (!event_.is_open()) throw std::system_error{errno, std::generic_category(), "eventfd"};
}

void StopEvent::set() {
  set_.store(true);
  const std::uint64_t one = 1;
  // Fails only when the counter is full, and then the event is long since readable.
  [[maybe_unused]] const auto written = ::write(event_.get(), &one, sizeof one);
}

Waited wait_until(int fd, short events, const StopEvent& stop, Deadline deadline) {
  using namespace std::chrono;
  for (;;) {
    if (stop.is_set()) return Waited::stopped;
    const auto left = std::max(nanoseconds{0}, duration_cast<nanoseconds>(deadline - steady_clock::now()));
    const timespec span{static_cast<std::time_t>(left / seconds{1}), static_cast<long>((left % seconds{1}).count())};
    std::array<pollfd, 2> watched{{{fd, events, 0}, {stop.fd(), POLLIN, 0}}};
    const int ready = ::ppoll(watched.data(), watched.size(), &span, nullptr);
    if (ready < 0 && errno != EINTR) throw std::system_error{errno, std::generic_category(), "ppoll"};
    if (ready <= 0) {
      if (ready == 0 && steady_clock::now() >= deadline) return Waited::timed_out;
      continue; // a signal, or woken a little early
    }
    if (watched[1].revents != 0) return Waited::stopped;
    return Waited::ready;
  }
}

} // namespace oxherd::drivers
