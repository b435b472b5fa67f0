// A plant of many oxygen transmitters and a relay module behind Modbus TCP, fast enough not to be what is measured; and
// the barest loop that could watch it.
//
//   oxherd_bench_plant serve PORT BUSES RELAYS           answers on BUSES + 1 ports from PORT on, the last for relays
//   oxherd_bench_plant peer PORT RELAYS SECONDS          polls sensor after sensor and writes the relay of a low one
//
// Sensor n of bus b is unit n + 1 there. The first RELAYS sensors of bus 0 go low in turn: such a sensor gives 17 %
// from some poll on, until its relay (coil n of unit 201, on the last port) is written off, and again some time after
// it was written on. One line is printed for each: RELAY and the microseconds from the reply that carried the low value
// until the request that wrote the relay off was there.
#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <array>
#include <charconv>
#include <chrono>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <random>
#include <string>
#include <thread>
#include <vector>

#include "drivers/register_bus.hpp"

namespace {

using Clock = std::chrono::steady_clock;
using Bytes = std::vector<std::uint8_t>;
constexpr std::uint16_t fresh_air = 2090, low_air = 1700; // hundredths of a per cent
constexpr int relay_unit = 201;
constexpr std::size_t header = 7;

struct Relay {
  bool on = false;
  Clock::time_point low_from = Clock::now() + std::chrono::seconds{10};
  std::optional<Clock::time_point> told; ///< when the low value went out
};

struct Client {
  int socket;
  int bus;
  Bytes waiting;
};

class BenchPlant {
public:
  BenchPlant(int port, int buses, int relays) : relays_(static_cast<std::size_t>(relays)) {
    for (int bus = 0; bus <= buses; ++bus) {
      const int listener = ::socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0);
      const int yes = 1;
      ::setsockopt(listener, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
      sockaddr_in address{};
      address.sin_family = AF_INET;
      address.sin_port = htons(static_cast<std::uint16_t>(port + bus));
      address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
      if (::bind(listener, reinterpret_cast<const sockaddr*>(&address), sizeof address) != 0 ||
          ::listen(listener, 8) != 0) {
        std::perror("listen");
        std::exit(1);
      }
      listeners_.push_back(listener);
    }
  }

  [[noreturn]] void serve() {
    for (;;) {
      std::vector<pollfd> waiting;
      for (const int one : listeners_) waiting.push_back({one, POLLIN, 0});
      for (const auto& client : clients_) waiting.push_back({client.socket, POLLIN, 0});
      ::poll(waiting.data(), waiting.size(), -1);
      for (std::size_t i = clients_.size(); i-- > 0;)
        if (waiting[listeners_.size() + i].revents != 0 && !read_from(clients_[i])) {
          ::close(clients_[i].socket);
          clients_.erase(clients_.begin() + static_cast<std::ptrdiff_t>(i));
        }
      for (std::size_t bus = 0; bus < listeners_.size(); ++bus)
        if (waiting[bus].revents != 0) accept_on(static_cast<int>(bus));
    }
  }

private:
  void accept_on(int bus) {
    const int socket = ::accept4(listeners_[static_cast<std::size_t>(bus)], nullptr, nullptr, SOCK_NONBLOCK);
    if (socket < 0) return;
    const int yes = 1;
    ::setsockopt(socket, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
    clients_.push_back({socket, bus, {}});
  }

  bool read_from(Client& client) {
    std::array<std::uint8_t, 4096> buffer{};
    const auto n = ::recv(client.socket, buffer.data(), buffer.size(), 0);
    if (n <= 0) return n < 0 && errno == EAGAIN;
    client.waiting.insert(client.waiting.end(), buffer.begin(), buffer.begin() + n);
    while (client.waiting.size() >= header) {
      const auto& all = client.waiting;
      const std::size_t length = static_cast<std::size_t>(all[4] << 8 | all[5]);
      if (all.size() < 6 + length) break;
      Bytes reply{all[0], all[1], 0, 0, 0, 0, all[6]};
      answer(client.bus, all[6], {all.begin() + header, all.begin() + static_cast<std::ptrdiff_t>(6 + length)}, reply);
      reply[5] = static_cast<std::uint8_t>(reply.size() - 6);
      if (::send(client.socket, reply.data(), reply.size(), MSG_NOSIGNAL) < 0) return false;
      client.waiting.erase(client.waiting.begin(), client.waiting.begin() + static_cast<std::ptrdiff_t>(6 + length));
    }
    return true;
  }

  void answer(int bus, int unit, const Bytes& request, Bytes& reply) {
    const auto relay = static_cast<std::size_t>(request[1] << 8 | request[2]);
    switch (request[0]) {
    case 4: {
      const std::uint16_t value = value_of(bus, unit);
      for (const int byte : {4, 2, value >> 8, value & 0xFF}) reply.push_back(static_cast<std::uint8_t>(byte));
      return;
    }
    case 1:
      for (const int byte : {1, 1, relay < relays_.size() && relays_[relay].on ? 1 : 0})
        reply.push_back(static_cast<std::uint8_t>(byte));
      return;
    case 5:
      if (relay < relays_.size()) write(relay, request[3] != 0);
      reply.insert(reply.end(), request.begin(), request.begin() + 5);
      return;
    default: reply.insert(reply.end(), {static_cast<std::uint8_t>(request[0] | 0x80), 1});
    }
  }

  std::uint16_t value_of(int bus, int unit) {
    const auto n = static_cast<std::size_t>(unit - 1);
    if (bus != 0 || n >= relays_.size()) return fresh_air;
    Relay& relay = relays_[n];
    const auto now = Clock::now();
    if (!relay.on || now < relay.low_from) return fresh_air;
    if (!relay.told) relay.told = now;
    return low_air;
  }

  void write(std::size_t n, bool on) {
    Relay& relay = relays_[n];
    const auto now = Clock::now();
    if (!on && relay.told) {
      std::printf(
          "%zu %lld\n", n,
          static_cast<long long>(std::chrono::duration_cast<std::chrono::microseconds>(now - *relay.told).count()));
      std::fflush(stdout);
      relay.told.reset();
    }
    if (on && !relay.on)
      relay.low_from =
          now + std::chrono::milliseconds{500 + static_cast<int>(dice_() % 2000)}; // any phase of the polls
    relay.on = on;
  }

  std::vector<int> listeners_;
  std::vector<Client> clients_;
  std::vector<Relay> relays_;
  std::mt19937 dice_{1};
};

[[noreturn]] void watch_barely(int port, int relays, int seconds) {
  using namespace oxherd::drivers;
  constexpr std::chrono::milliseconds timeout{500};
  const auto sensors = make_bus(TcpAddress{.host = "127.0.0.1", .port = static_cast<std::uint16_t>(port)});
  const auto outputs = make_bus(TcpAddress{.host = "127.0.0.1", .port = static_cast<std::uint16_t>(port + 1)});
  std::vector<int> held(static_cast<std::size_t>(relays), -1);
  for (const auto end = Clock::now() + std::chrono::seconds{seconds}; Clock::now() < end;) {
    for (int n = 0; n < relays; ++n) {
      const auto value = sensors->read(n + 1, {Table::input_register, 0, 1}, timeout);
      if (!value) std::exit(1);
      const int healthy = value->front() == fresh_air ? 1 : 0;
      if (std::exchange(held[static_cast<std::size_t>(n)], healthy) == healthy) continue;
      if (!outputs->write_coil(relay_unit, static_cast<std::uint16_t>(n), healthy != 0, timeout)) std::exit(1);
    }
    std::this_thread::sleep_for(std::chrono::milliseconds{5});
  }
  std::exit(0);
}

} // namespace

int main(int argc, char** argv) {
  const auto number = [&](int i) { return std::atoi(argv[i]); };
  if (argc == 5 && std::string{argv[1]} == "serve") BenchPlant{number(2), number(3), number(4)}.serve();
  if (argc == 5 && std::string{argv[1]} == "peer") watch_barely(number(2), number(3), number(4));
  std::fprintf(stderr, "serve PORT BUSES RELAYS | peer PORT RELAYS SECONDS\n");
  return 2;
}
