// How many polls a second a bus thread of the daemon makes of one Modbus TCP server, and how many a bare loop of
// libmodbus makes of the same registers, in turns.
//
//   oxherd_bench_polls PORT SECONDS     prints one line of JSON: polls a second of each turn
#include <atomic>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <memory>
#include <thread>
#include <vector>

#include <modbus.h>

#include "daemon/bus/bus_worker.hpp"
#include "drivers/register_bus.hpp"

namespace {

using Clock = std::chrono::steady_clock;
using namespace oxherd;
constexpr int words = 8, units = 50;
constexpr std::chrono::milliseconds turn{1000};

double seconds_since(Clock::time_point begun) { return std::chrono::duration<double>(Clock::now() - begun).count(); }

/// Eight registers of fifty devices that are all due all the time, decoded into four numbers each.
double polls_of_a_bus_thread(int port) {
  std::vector<daemon::BusTask> tasks;
  for (int unit = 1; unit <= units; ++unit) {
    drivers::Device device;
    device.unit = unit;
    for (int i = 0; i < words / 2; ++i) {
      drivers::Point point;
      point.table = drivers::Table::input_register;
      point.address = static_cast<std::uint16_t>(2 * i);
      point.encoding = drivers::Encoding::float32;
      device.map.points.push_back(point);
    }
    tasks.push_back(
        {{0, static_cast<std::size_t>(unit - 1)}, device, {std::chrono::milliseconds{1}, std::chrono::seconds{1}}});
  }
  std::atomic<long> polls{0}, failed{0};
  daemon::BusWorker::Callbacks callbacks;
  callbacks.polled = [&](daemon::Poll poll) {
    ++polls;
    if (poll.error) ++failed;
  };
  callbacks.written = [](daemon::WriteResult) {};
  const daemon::BusWorker worker{
      "bench", drivers::make_bus(drivers::TcpAddress{.host = "127.0.0.1", .port = static_cast<std::uint16_t>(port)}),
      std::move(tasks), std::move(callbacks)};
  while (polls < 100) std::this_thread::yield(); // connected, and all have had a turn
  const auto begun = Clock::now();
  const long before = polls;
  std::this_thread::sleep_for(turn);
  const double rate = static_cast<double>(polls - before) / seconds_since(begun);
  if (failed > 0) std::exit(1);
  return rate;
}

double polls_of_a_bare_loop(int port) {
  const std::unique_ptr<modbus_t, void (*)(modbus_t*)> context{::modbus_new_tcp("127.0.0.1", port), ::modbus_free};
  if (::modbus_connect(context.get()) != 0) std::exit(1);
  const auto begun = Clock::now();
  long polls = 0;
  for (; Clock::now() - begun < turn; ++polls) {
    std::uint16_t values[words];
    ::modbus_set_slave(context.get(), static_cast<int>(polls % units) + 1);
    if (::modbus_read_input_registers(context.get(), 0, words, values) != words) std::exit(1);
  }
  const double rate = static_cast<double>(polls) / seconds_since(begun);
  ::modbus_close(context.get());
  return rate;
}

void print(const char* name, const std::vector<double>& rates, const char* end) {
  std::printf("\"%s\": [", name);
  for (std::size_t i = 0; i < rates.size(); ++i) std::printf("%s%.0f", i == 0 ? "" : ", ", rates[i]);
  std::printf("]%s", end);
}

} // namespace

int main(int argc, char** argv) {
  if (argc != 3) {
    std::fputs("oxherd_bench_polls PORT SECONDS\n", stderr);
    return 2;
  }
  std::vector<double> ours, bare;
  const auto end = Clock::now() + std::chrono::seconds{std::atoi(argv[2])};
  do {
    ours.push_back(polls_of_a_bus_thread(std::atoi(argv[1])));
    bare.push_back(polls_of_a_bare_loop(std::atoi(argv[1])));
  } while (Clock::now() < end);
  std::printf("{");
  print("ours", ours, ", ");
  print("bare", bare, "}\n");
  return 0;
}
