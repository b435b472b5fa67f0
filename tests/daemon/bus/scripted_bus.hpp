#pragma once

#include <chrono>
#include <condition_variable>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <utility>
#include <vector>

#include <gtest/gtest.h>

#include "daemon/bus/bus_worker.hpp"

namespace oxherd::daemon::bus_worker_test {

using namespace std::chrono_literals;
using Lock = std::unique_lock<std::mutex>;
constexpr auto deadline = 10s;

/// A bus that answers every read with 0x1234, and whose reads can be held until released or interrupted.
class ScriptedBus : public drivers::RegisterBus {
public:
  struct Control {
    std::mutex mutex;
    std::condition_variable changed;
    bool hold = false, interrupted = false, reading = false;
    bool dead = false;
    bool deaf = false;                 ///< coils are not written
    int deaf_unit = 0;                 ///< nor those of this unit
    int replies_lost = 0;              ///< of the next writes of coils
    bool refuses = false;              ///< coils, with an exception
    std::chrono::milliseconds slow{0}; ///< what a read takes at least
    std::vector<std::string> calls;
    std::function<void()> at_next_coil;   ///< happens while the next coil is written
    std::function<void()> while_gathered; ///< happens while it is looked at what goes out with the next write
    int requests_at_once = 1;
    int silent_among_others = 0; ///< this unit answers only when it is asked, or written to, by itself
  };
  explicit ScriptedBus(std::shared_ptr<Control> control) : control_{std::move(control)} {}

  [[nodiscard]] tl::expected<std::vector<std::uint16_t>, drivers::BusError> read(int unit, drivers::Span span,
                                                                                 std::chrono::milliseconds) override {
    Lock lock{control_->mutex};
    control_->calls.push_back("read " + std::to_string(unit));
    control_->reading = true;
    control_->changed.notify_all();
    control_->changed.wait_for(lock, deadline, [&] { return !control_->hold || control_->interrupted; });
    control_->reading = false;
    if (control_->slow > 0ms) control_->changed.wait_for(lock, control_->slow, [&] { return control_->interrupted; });
    if (control_->dead || control_->interrupted)
      return tl::unexpected(drivers::BusError{drivers::BusFault::timeout, 0, "no reply"});
    return std::vector<std::uint16_t>(span.count, 0x1234);
  }
  [[nodiscard]] int requests_at_once() const override {
    Lock lock{control_->mutex};
    if (const auto happens = std::exchange(control_->while_gathered, {})) {
      lock.unlock();
      happens();
      lock.lock();
    }
    return control_->requests_at_once;
  }
  [[nodiscard]] std::vector<std::vector<std::uint16_t>> read_together(std::span<const drivers::Read> reads) override {
    const Lock lock{control_->mutex};
    std::string call = "together";
    std::vector<std::vector<std::uint16_t>> words;
    for (const auto& read : reads) {
      call += " " + std::to_string(read.unit);
      const bool answers = !control_->dead && read.unit != control_->silent_among_others;
      words.emplace_back(answers ? read.span.count : std::uint16_t{0}, std::uint16_t{0x1234});
    }
    control_->calls.push_back(call);
    return words;
  }
  [[nodiscard]] tl::expected<void, drivers::BusError> write_coil(int unit, std::uint16_t address, bool on,
                                                                 std::chrono::milliseconds) override {
    Lock lock{control_->mutex};
    if (const auto happens = std::exchange(control_->at_next_coil, {})) {
      lock.unlock();
      happens();
      lock.lock();
    }
    control_->calls.push_back("coil " + std::to_string(address) + (on ? " on" : " off"));
    if (control_->refuses)
      return tl::unexpected(drivers::BusError{drivers::BusFault::exception, 2, "illegal data address"});
    const bool is_lost = control_->replies_lost > 0;
    if (is_lost) --control_->replies_lost;
    if (control_->deaf || unit == control_->deaf_unit || is_lost)
      return tl::unexpected(drivers::BusError{drivers::BusFault::timeout, 0, "no reply"});
    return {};
  }
  [[nodiscard]] std::vector<bool> write_together(std::span<const drivers::Write> writes) override {
    const Lock lock{control_->mutex};
    std::string call = "write together";
    std::vector<bool> confirmed;
    for (const auto& write : writes) {
      call += " " + std::to_string(write.address);
      for (const auto value : write.values) call += ":" + std::to_string(value);
      confirmed.push_back(!control_->deaf && write.unit != control_->deaf_unit &&
                          write.unit != control_->silent_among_others);
    }
    control_->calls.push_back(call);
    return confirmed;
  }
  [[nodiscard]] tl::expected<void, drivers::BusError> write_register(int, std::uint16_t address, std::uint16_t value,
                                                                     std::chrono::milliseconds) override {
    const Lock lock{control_->mutex};
    control_->calls.push_back("register " + std::to_string(address) + " " + std::to_string(value));
    return {};
  }
  [[nodiscard]] tl::expected<void, drivers::BusError> write_registers(int, std::uint16_t address,
                                                                      const std::vector<std::uint16_t>& values,
                                                                      std::chrono::milliseconds) override {
    const Lock lock{control_->mutex};
    std::string call = "registers " + std::to_string(address);
    for (const auto value : values) call += " " + std::to_string(value);
    control_->calls.push_back(call);
    return {};
  }
  void interrupt() override {
    const Lock lock{control_->mutex};
    control_->interrupted = true;
    control_->changed.notify_all();
  }

private:
  std::shared_ptr<Control> control_;
};

/// Collects what a worker posts and lets a test wait for it.
class Inbox {
public:
  BusWorker::Callbacks callbacks() {
    return {[this](Poll p) { put(polls_, std::move(p)); }, [this](WriteResult w) { put(writes_, std::move(w)); }};
  }
  std::vector<Poll> polls(std::size_t n) { return wait(polls_, n); }
  std::vector<WriteResult> writes(std::size_t n) { return wait(writes_, n); }

private:
  template <class T> void put(std::vector<T>& list, T item) {
    const Lock lock{mutex_};
    list.push_back(std::move(item));
    changed_.notify_all();
  }
  template <class T> std::vector<T> wait(std::vector<T>& list, std::size_t n) {
    Lock lock{mutex_};
    EXPECT_TRUE(changed_.wait_for(lock, deadline, [&] { return list.size() >= n; }));
    return list;
  }
  std::mutex mutex_;
  std::condition_variable changed_;
  std::vector<Poll> polls_;
  std::vector<WriteResult> writes_;
};

/// A decision for a relay, as it is at an alarm or a stop.
inline OutputWrite decision(std::size_t output, int unit, std::uint16_t coil) {
  OutputWrite write{output, unit, true, coil, 0, 10s};
  write.decided = std::chrono::steady_clock::now();
  return write;
}

/// Lets what is written meanwhile wait together: the bus is held in the question after a write to coil 9 of unit 32.
inline void gather(ScriptedBus::Control& control, BusWorker& worker, const std::function<void()>& write) {
  {
    const Lock lock{control.mutex};
    control.hold = true;
  }
  worker.write({9, 32, true, 9, 1, 500ms});
  Lock lock{control.mutex};
  ASSERT_TRUE(control.changed.wait_for(lock, deadline, [&] { return control.reading; }));
  control.calls.clear();
  write();
  control.hold = false;
  control.changed.notify_all();
}

inline BusTask task(std::size_t sensor, int unit, std::chrono::milliseconds every) {
  BusTask t;
  t.sensor = {0, sensor};
  t.device.unit = unit;
  t.device.map.points = {drivers::Point{}};
  t.device.retries = 0;
  t.schedule = {every, 1000ms};
  return t;
}

} // namespace oxherd::daemon::bus_worker_test
