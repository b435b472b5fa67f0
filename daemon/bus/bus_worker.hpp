#pragma once

#include <atomic>
#include <condition_variable>
#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "daemon/bus/output_write.hpp"
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

struct BusHealth {
  bool connected = false; ///< something on the bus answered at the last try
  std::string trouble;    ///< the last failure in words
  std::uint64_t polls = 0;
  std::uint64_t failures = 0;
};

/// Owns one bus and polls its devices from a thread of its own. Output writes go before the next poll, so a decision
/// for a unit that answers waits for one running request, or those that share its wait, and the writes before it at
/// most; where the bus takes several requests at once, so many of these go out together. Each is followed by a question
/// for what the device holds now. A unit that does not answer is left alone for a while, 2 s at most: only decisions
/// are tried at once even then, each one time, after those for the units that answer. So a decision whose reply alone
/// is lost is written again at once, before anything is told about it. Questions and due polls take turns, so that
/// flashing horns and beacons do not keep the sensors from being read. The callbacks run on the bus thread and must
/// only hand over. At the start every device is asked once, in the order of the tasks; from then on those of one period
/// are spread over it.
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
  /// A unit that did not answer.
  struct LeftAlone {
    Monotonic until{0};
    drivers::BusError error;
  };
  /// A write that the device has accepted.
  struct Accepted {
    OutputWrite write;
    std::optional<std::chrono::microseconds> took;
  };
  void run();
  [[nodiscard]] tl::expected<void, drivers::BusError> tell(const OutputWrite& write);
  void write_waiting();
  std::optional<OutputWrite> take_next(const std::set<std::size_t>& looked_at);
  void ask_back(); ///< about one of to_ask_, which must not be empty
  void write_together(const std::vector<OutputWrite>& writes);
  void write_now(const OutputWrite& write);
  void accepted(const OutputWrite& write);
  void keep_waiting(const OutputWrite& write);
  void put_off(OutputWrite write);
  /// Until when nothing is written to a unit that did not answer.
  [[nodiscard]] Monotonic left_alone_until(int unit) const;
  /// The same of one write: a decision that was not tried yet does not wait.
  [[nodiscard]] Monotonic to_wait_until(const OutputWrite& write) const;
  void note_unit(int unit, const std::optional<drivers::BusError>& error, std::chrono::milliseconds timeout);
  /// This one, and what is due with it and fits on the way with it.
  void poll_due(std::size_t task);
  [[nodiscard]] std::vector<std::size_t> together_with(std::size_t task) const;
  void polled(std::size_t task, drivers::PollResult result);
  void note(bool answered, const std::optional<drivers::BusError>& error);

  const std::string name_;
  const std::unique_ptr<drivers::RegisterBus> bus_;
  const std::vector<BusTask> tasks_;
  const Callbacks callbacks_;
  std::vector<std::vector<drivers::Span>> plans_; // bus thread only
  std::vector<drivers::ScheduleState> schedule_;  // bus thread only
  std::vector<bool> to_ask_alone_;                // bus thread only; what others on the way with it left open
  std::size_t first_round_ = 0;                   // bus thread only; who is asked next in it
  std::set<std::size_t> to_write_alone_;          // bus thread only; outputs, as above
  std::map<std::size_t, Accepted> to_ask_;        // bus thread only
  std::size_t asked_last_ = 0;                    // bus thread only; output
  bool asked_since_poll_ = false;                 // bus thread only
  std::map<int, LeftAlone> left_alone_;           // bus thread only; by unit

  mutable std::mutex mutex_;
  std::condition_variable wake_;
  std::map<std::size_t, OutputWrite> waiting_; // guarded by mutex_
  BusHealth health_;                           // guarded by mutex_
  bool stop_ = false;                          // guarded by mutex_
  std::atomic<std::uint64_t> progress_{0};
  std::thread thread_; // last: the thread sees a finished object
};

} // namespace oxherd::daemon
