#pragma once

#include <array>
#include <csignal>

namespace oxherd::daemon::cli {

/// While it lives, SIGINT, SIGTERM and SIGHUP are noted instead of ending the process, so that long work can stop in
/// an orderly way. One at a time.
class InterruptGuard {
public:
  InterruptGuard();
  ~InterruptGuard();
  InterruptGuard(const InterruptGuard&) = delete;
  InterruptGuard& operator=(const InterruptGuard&) = delete;
  /// Whether such a signal came since the guard was made.
  [[nodiscard]] static bool interrupted();

private:
  static constexpr std::array signals{SIGINT, SIGTERM, SIGHUP};
  std::array<struct sigaction, signals.size()> before_{};
};

} // namespace oxherd::daemon::cli
