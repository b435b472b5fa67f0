#include "daemon/service/service_manager.hpp"

#include <chrono>
#include <ctime>

#include <fmt/core.h>
#include <systemd/sd-daemon.h>

#include "daemon/log.hpp"
#include "daemon/named_thread.hpp"

namespace oxherd::daemon {
namespace {

/// The watchdog's own period; zero when none is asked for.
std::chrono::microseconds watchdog_period() {
  std::uint64_t usec = 0;
  return sd_watchdog_enabled(0, &usec) > 0 ? std::chrono::microseconds{usec} : std::chrono::microseconds{0};
}

void send(const std::string& message) {
  if (sd_notify(0, message.c_str()) < 0) log::warning("the service manager could not be told: {}", message);
}

std::uint64_t monotonic_usec() {
  return static_cast<std::uint64_t>(
      std::chrono::duration_cast<std::chrono::microseconds>(std::chrono::steady_clock::now().time_since_epoch())
          .count());
}

} // namespace

ServiceManager::ServiceManager(Progress progress) : progress_{std::move(progress)} {
  thread_ = named_thread("watchdog", [this] { run(); });
}

ServiceManager::~ServiceManager() {
  {
    const std::lock_guard lock{mutex_};
    stop_ = true;
  }
  wake_.notify_all();
  thread_.join();
}

void ServiceManager::ready(const std::string& status) { notify("READY=1\nSTATUS=" + status); }
void ServiceManager::reloading() { notify(fmt::format("RELOADING=1\nMONOTONIC_USEC={}", monotonic_usec())); }
void ServiceManager::stopping() { notify("STOPPING=1"); }

void ServiceManager::notify(std::string message) {
  {
    const std::lock_guard lock{mutex_};
    messages_.push_back(std::move(message));
  }
  wake_.notify_all();
}

void ServiceManager::feed_watchdog() {
  const auto progress = progress_();
  bool moved = progress.size() != last_progress_.size();
  if (!moved) {
    moved = true;
    for (std::size_t i = 0; i < progress.size(); ++i) moved = moved && progress[i] != last_progress_[i];
  }
  if (moved) {
    send("WATCHDOG=1");
    last_progress_ = progress;
  } else if (!stalled_) {
    log::error("a bus thread or the decision loop makes no progress: the service watchdog is not fed");
  }
  stalled_ = !moved;
}

void ServiceManager::run() {
  const auto period = watchdog_period();
  const std::chrono::microseconds beat = period.count() > 0 ? period / 3 : std::chrono::hours{1};
  auto next = std::chrono::steady_clock::now() + beat;
  std::unique_lock lock{mutex_};
  for (;;) {
    wake_.wait_until(lock, next, [this] { return stop_ || !messages_.empty(); });
    while (!messages_.empty()) {
      const std::string message = std::move(messages_.front());
      messages_.pop_front();
      lock.unlock();
      send(message);
      lock.lock();
    }
    if (stop_) return;
    if (std::chrono::steady_clock::now() < next) continue;
    next += beat;
    if (period.count() == 0) continue;
    lock.unlock();
    feed_watchdog();
    lock.lock();
  }
}

} // namespace oxherd::daemon
