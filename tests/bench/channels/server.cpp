// Many Modbus TCP servers in one, for measures in which they must not be what is measured.
//
//   oxherd_bench_server PORT COUNT [times]     answers on COUNT ports from PORT on
//
// Every unit has the same input registers. Register 0 is a fresh-air oxygen in hundredths of a per cent, a carbon
// dioxide in ppm or a temperature in tenths, according to the unit: 1 to 60, 61 to 100, and from 101 on. The last
// digit moves from one answer to the next. With `times` a line is printed for each request: unit and microseconds of
// the monotonic clock.
#include <array>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <map>
#include <vector>

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

namespace {

using Bytes = std::vector<std::uint8_t>;

void give_up(const char* what) {
  std::perror(what);
  std::exit(1);
}

class Server {
public:
  Server(int port, int count, bool tells_times) : epoll_{::epoll_create1(0)}, tells_times_{tells_times} {
    for (int i = 0; i < count; ++i) {
      const int listener = ::socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0);
      const int yes = 1;
      ::setsockopt(listener, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
      sockaddr_in address{};
      address.sin_family = AF_INET;
      address.sin_port = htons(static_cast<std::uint16_t>(port + i));
      address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
      if (::bind(listener, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0 ||
          ::listen(listener, 8) != 0)
        give_up("listen");
      watch(listener);
      is_listener_[listener] = true;
    }
  }

  [[noreturn]] void serve() {
    std::array<epoll_event, 64> events{};
    for (;;) {
      const int ready = ::epoll_wait(epoll_, events.data(), events.size(), -1);
      for (int i = 0; i < ready; ++i) {
        const int fd = events[static_cast<std::size_t>(i)].data.fd;
        if (is_listener_.contains(fd)) {
          const int client = ::accept4(fd, nullptr, nullptr, SOCK_NONBLOCK);
          const int yes = 1;
          if (client < 0) continue;
          ::setsockopt(client, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
          watch(client);
        } else if (!answer(fd)) {
          ::close(fd);
        }
      }
    }
  }

private:
  static constexpr std::ptrdiff_t request_bytes = 12;

  void watch(int fd) {
    epoll_event event{};
    event.events = EPOLLIN;
    event.data.fd = fd;
    if (::epoll_ctl(epoll_, EPOLL_CTL_ADD, fd, &event) != 0) give_up("epoll_ctl");
  }

  /// What has come: one request, or as many as a master has on their way at once. Every request that reads has 12
  /// bytes, and over the loopback interface they come whole. Each has a reply of its own, as from devices behind a
  /// gateway.
  bool answer(int fd) {
    std::array<std::uint8_t, 20 * request_bytes> in{};
    const auto n = ::recv(fd, in.data(), in.size(), 0);
    if (n < 0) return true;
    if (n == 0 || n % request_bytes != 0) return false;
    for (auto request = in.cbegin(); request < in.cbegin() + n; request += request_bytes)
      if (!answer_one(fd, request)) return false;
    return true;
  }

  bool answer_one(int fd, std::array<std::uint8_t, 20 * request_bytes>::const_iterator in) {
    const int unit = in[6];
    if (tells_times_) {
      const auto now = std::chrono::steady_clock::now().time_since_epoch();
      std::printf("%d %lld\n", unit,
                  static_cast<long long>(std::chrono::duration_cast<std::chrono::microseconds>(now).count()));
    }
    const std::size_t words = in[11];
    std::array<std::uint8_t, 260> out{in[0], in[1], 0,
                                      0,     0,     static_cast<std::uint8_t>(3 + 2 * words),
                                      in[6], in[7], static_cast<std::uint8_t>(2 * words)};
    ++turn_;
    for (std::size_t i = 0; i < words; ++i) {
      const int value = value_of(unit, i) + static_cast<int>(turn_ % 3);
      out[9 + 2 * i] = static_cast<std::uint8_t>(value / 256);
      out[10 + 2 * i] = static_cast<std::uint8_t>(value % 256);
    }
    return ::send(fd, out.data(), 9 + 2 * words, MSG_NOSIGNAL) > 0;
  }

  static int value_of(int unit, std::size_t word) {
    if (word == 1) return 456;  // 45.6 %RH
    if (word == 2) return 9958; // 995.8 hPa
    return unit <= 60 ? 2090 : unit <= 100 ? 420 : 211;
  }

  int epoll_;
  bool tells_times_;
  unsigned turn_ = 0;
  std::map<int, bool> is_listener_;
};

} // namespace

int main(int argc, char** argv) {
  if (argc < 3) {
    std::fputs("oxherd_bench_server PORT COUNT [times]\n", stderr);
    return 2;
  }
  std::setvbuf(stdout, nullptr, _IOLBF, 1 << 16);
  Server{std::atoi(argv[1]), std::atoi(argv[2]), argc > 3 && std::strcmp(argv[3], "times") == 0}.serve();
}
