#pragma once

#include <chrono>

#include "drivers/waiting.hpp"

namespace oxherd::drivers {

/// How long before a moment a sleep must end so that the moment itself is not missed: learned from how late earlier
/// sleeps ended. The rest is spent watching the clock, so it is bounded.
/// @checked tests/drivers/exact_wait_test.cpp
class WakeUpDelay {
public:
  /// Watching costs processor time: this much before each request at most.
  static constexpr std::chrono::nanoseconds longest{std::chrono::microseconds{200}};

  [[nodiscard]] std::chrono::nanoseconds margin() const { return margin_; }
  /// A sleep ended so much later than it was asked to.
  void note(std::chrono::nanoseconds late);

private:
  std::chrono::nanoseconds margin_ = longest;
};

/// Lets this thread's sleeps end within microseconds of their time, as far as the machine can; else the kernel may join
/// them with others up to 50 us later.
void ask_for_exact_sleeps();

/// As wait_until, but so much before the deadline that whoever watches from then on does not miss it.
[[nodiscard]] Waited wait_nearly_until(int fd, short events, const StopEvent& stop, Deadline deadline,
                                       WakeUpDelay& delay);

/// As wait_until, but with a deadline that is met within microseconds, as long as the machine lets this thread run.
[[nodiscard]] Waited wait_exactly_until(int fd, short events, const StopEvent& stop, Deadline deadline,
                                        WakeUpDelay& delay);

} // namespace oxherd::drivers
