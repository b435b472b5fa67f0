#pragma once

#include <atomic>
#include <chrono>
#include <utility>

namespace oxherd::drivers {

/// Owns one file descriptor.
class FileDescriptor {
public:
  FileDescriptor() = default;
  explicit FileDescriptor(int fd) : fd_{fd} {}
  FileDescriptor(FileDescriptor&& other) noexcept : fd_{std::exchange(other.fd_, -1)} {}
  FileDescriptor& operator=(FileDescriptor&& other) noexcept {
    std::swap(fd_, other.fd_);
    return *this;
  }
  ~FileDescriptor() { reset(); }
  [[nodiscard]] int get() const { return fd_; }
  [[nodiscard]] bool is_open() const { return fd_ >= 0; }
  void reset(); ///< closes

private:
  int fd_ = -1;
};

/// A request to stop that wakes whoever waits below. Once set it stays set. set() may be called from any thread.
class StopEvent {
public:
  StopEvent(); ///< throws std::system_error when the process has no descriptor left
  void set();
  [[nodiscard]] bool is_set() const { return set_.load(); }
  [[nodiscard]] int fd() const { return event_.get(); }

private:
  FileDescriptor event_;
  std::atomic<bool> set_{false};
};

using Deadline = std::chrono::steady_clock::time_point;
enum class Waited { ready, timed_out, stopped };

/// Waits until the descriptor is ready for `events` (POLLIN, POLLOUT) or hung up, the deadline has passed, or `stop`
/// is set. Looks at the descriptor once even when the deadline lies in the past; a negative one only waits.
/// Uses poll, so it has no limit of 1024 descriptors.
[[nodiscard]] Waited wait_until(int fd, short events, const StopEvent& stop, Deadline deadline);

} // namespace oxherd::drivers
