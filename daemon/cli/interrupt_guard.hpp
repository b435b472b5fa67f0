#pragma once

#include <array>
#include <csignal>
#include <string>

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
  /// The next line of standard input; false at its end and once a signal has come. One that comes just before the
  /// reading begins ends it too.
  [[nodiscard]] static bool read_line(std::string& line);

private:
  static constexpr std::array signals{SIGINT, SIGTERM, SIGHUP};
  std::array<struct sigaction, signals.size()> before_{};
};

} // namespace oxherd::daemon::cli
