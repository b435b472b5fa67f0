#include "daemon/bus/bus_worker.hpp"

#include <algorithm>

#include "daemon/clock.hpp"

namespace oxherd::daemon {
namespace {

/// An idle thread still shows progress to the watchdog this often.
constexpr std::chrono::milliseconds idle_at_most{500};

bool anything_read(const drivers::PollResult& result) {
  return std::any_of(result.values.begin(), result.values.end(),
                     [](const drivers::Value& v) { return v.fault != drivers::ValueFault::not_read; });
}

} // namespace

BusWorker::BusWorker(std::string name, std::unique_ptr<drivers::RegisterBus> bus, std::vector<BusTask> tasks,
                     Callbacks callbacks)
    : name_{std::move(name)}, bus_{std::move(bus)}, tasks_{std::move(tasks)}, callbacks_{std::move(callbacks)} {
  const Monotonic now = monotonic_now();
  for (std::size_t i = 0; i < tasks_.size(); ++i) {
    plans_.push_back(drivers::plan_reads(tasks_[i].device.map, tasks_[i].device.limits));
    // Devices with one period are spread over it, so that they do not queue behind each other at every beat.
    const auto share = tasks_[i].schedule.every * static_cast<int>(i) / std::max(1, static_cast<int>(tasks_.size()));
    schedule_.push_back({now + share, 0});
  }
  thread_ = std::thread{[this] { run(); }};
}

BusWorker::~BusWorker() {
  {
    const std::lock_guard lock{mutex_};
    stop_ = true;
  }
  wake_.notify_all();
  bus_->interrupt();
  thread_.join();
}

void BusWorker::write(const OutputWrite& write) {
  {
    const std::lock_guard lock{mutex_};
    waiting_[write.output] = write;
  }
  wake_.notify_all();
}

BusHealth BusWorker::health() const {
  const std::lock_guard lock{mutex_};
  return health_;
}

std::size_t BusWorker::next_due() const {
  const auto soonest =
      std::min_element(schedule_.begin(), schedule_.end(), [](const auto& a, const auto& b) { return a.due < b.due; });
  return static_cast<std::size_t>(soonest - schedule_.begin());
}

void BusWorker::run() {
  for (;;) {
    ++progress_;
    write_waiting();
    const std::size_t next = next_due();
    std::unique_lock lock{mutex_};
    if (stop_) return;
    const Monotonic now = monotonic_now();
    const Monotonic due = tasks_.empty() ? now + idle_at_most : schedule_[next].due;
    if (!waiting_.empty()) continue;
    if (due > now) {
      wake_.wait_for(lock, std::min<Monotonic>(due - now, idle_at_most));
      continue;
    }
    lock.unlock();
    poll(next);
  }
}

void BusWorker::write_waiting() {
  std::map<std::size_t, OutputWrite> writes;
  {
    const std::lock_guard lock{mutex_};
    writes.swap(waiting_);
  }
  for (const auto& [output, w] : writes) {
    const auto done = w.is_coil ? bus_->write_coil(w.unit, w.address, w.value != 0, w.timeout)
                                : bus_->write_register(w.unit, w.address, w.value, w.timeout);
    const auto error = done ? std::nullopt : std::optional{done.error()};
    note(done || done.error().line_in_step(), error);
    callbacks_.written({output, w.value, error});
  }
}

void BusWorker::poll(std::size_t i) {
  const BusTask& task = tasks_[i];
  auto result = drivers::poll(*bus_, task.device, plans_[i]);
  const bool answered = anything_read(result) || (result.error && result.error->line_in_step());
  const Monotonic now = monotonic_now();
  schedule_[i] = drivers::after_poll(task.schedule, schedule_[i], answered, now);
  note(answered, result.error);
  {
    const std::lock_guard lock{mutex_};
    if (stop_) return; // interrupted: what came of it says nothing about the device
  }
  callbacks_.polled({task.sensor, std::move(result.values), std::move(result.status), result.error, now, wall_now()});
}

void BusWorker::note(bool answered, const std::optional<drivers::BusError>& error) {
  const std::lock_guard lock{mutex_};
  health_.connected = answered;
  ++health_.polls;
  if (error) {
    ++health_.failures;
    health_.trouble = error->detail;
  } else if (answered) {
    health_.trouble.clear();
  }
}

} // namespace oxherd::daemon
