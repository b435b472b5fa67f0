#pragma once

#include <condition_variable>
#include <cstdint>
#include <deque>
#include <functional>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

namespace oxherd::daemon {

/// Talks to systemd (sd_notify) from a thread of its own, because sd_notify can block. Feeds the watchdog only while
/// every progress counter has moved since the last feed: a daemon that runs but evaluates nothing is restarted.
class ServiceManager {
public:
  using Progress = std::function<std::vector<std::uint64_t>()>; ///< called on the service thread
  explicit ServiceManager(Progress progress);
  ~ServiceManager();
  ServiceManager(const ServiceManager&) = delete;
  ServiceManager& operator=(const ServiceManager&) = delete;

  void ready(const std::string& status);
  void reloading();
  void stopping();

private:
  void run();
  void notify(std::string message);
  void feed_watchdog();

  const Progress progress_;
  std::vector<std::uint64_t> last_progress_; // service thread only
  bool stalled_ = false;                     // service thread only
  std::mutex mutex_;
  std::condition_variable wake_;
  std::deque<std::string> messages_; // guarded by mutex_
  bool stop_ = false;                // guarded by mutex_
  std::thread thread_;               // last: the thread sees a finished object
};

} // namespace oxherd::daemon
