#pragma once

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "daemon/room/poll.hpp"
#include "drivers/poll.hpp"
#include "drivers/register_bus.hpp"

namespace oxherd::daemon {

/// One sensor that this bus polls.
struct BusTask {
  SensorRef sensor;
  drivers::Device device;
  drivers::Schedule schedule;
};

/// One value to write. `output` identifies it: a newer value for the same output replaces one that still waits.
struct OutputWrite {
  std::size_t output = 0;
  int unit = 1;
  bool is_coil = true;
  std::uint16_t address = 0;
  std::uint16_t value = 0;
  std::chrono::milliseconds timeout{500};
};

struct WriteResult {
  std::size_t output = 0;
  std::uint16_t value = 0;
  std::optional<drivers::BusError> error;
};

struct BusHealth {
  bool connected = false; ///< something on the bus answered at the last try
  std::string trouble;    ///< the last failure in words
  std::uint64_t polls = 0;
  std::uint64_t failures = 0;
};

/// Owns one bus and polls its devices from a thread of its own. Output writes go before the next poll, so a decision
/// waits for one running request at most. The callbacks run on the bus thread and must only hand over.
class BusWorker {
public:
  struct Callbacks {
    std::function<void(Poll)> polled;
    std::function<void(WriteResult)> written;
  };
  BusWorker(std::string name, std::unique_ptr<drivers::RegisterBus> bus, std::vector<BusTask> tasks,
            Callbacks callbacks);
  ~BusWorker(); ///< interrupts a running request and waits for the thread: one bus timeout at most
  BusWorker(const BusWorker&) = delete;
  BusWorker& operator=(const BusWorker&) = delete;

  void write(const OutputWrite& write); ///< any thread, never blocks on the bus
  [[nodiscard]] const std::string& name() const { return name_; }
  [[nodiscard]] std::uint64_t progress() const { return progress_.load(); } ///< moves while the thread is alive
  [[nodiscard]] BusHealth health() const;                                   ///< any thread

private:
  void run();
  void write_waiting();
  void poll(std::size_t task);
  [[nodiscard]] std::size_t next_due() const;
  void note(bool answered, const std::optional<drivers::BusError>& error);

  const std::string name_;
  const std::unique_ptr<drivers::RegisterBus> bus_;
  const std::vector<BusTask> tasks_;
  const Callbacks callbacks_;
  std::vector<std::vector<drivers::Span>> plans_; // bus thread only
  std::vector<drivers::ScheduleState> schedule_;  // bus thread only

  mutable std::mutex mutex_;
  std::condition_variable wake_;
  std::map<std::size_t, OutputWrite> waiting_; // guarded by mutex_
  BusHealth health_;                           // guarded by mutex_
  bool stop_ = false;                          // guarded by mutex_
  std::atomic<std::uint64_t> progress_{0};
  std::thread thread_; // last: the thread sees a finished object
};

} // namespace oxherd::daemon
