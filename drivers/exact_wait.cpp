#include "drivers/exact_wait.hpp"

#include <algorithm>

#include <sys/prctl.h>

namespace oxherd::drivers {

using std::chrono::steady_clock;

void WakeUpDelay::note(std::chrono::nanoseconds late) {
  // Up at once, down slowly: a moment missed costs the line more than a little watching. A delay far beyond the bound
  // is a busy machine, which no margin helps.
  late = std::clamp<std::chrono::nanoseconds>(late * 5 / 4, std::chrono::nanoseconds{0}, longest);
  margin_ = late > margin_ ? late : margin_ - (margin_ - late) / 16;
}

void ask_for_exact_sleeps() { ::prctl(PR_SET_TIMERSLACK, 1UL); } // nanosecond; 50 us without it. It cannot fail.

Waited wait_nearly_until(int fd, short events, const StopEvent& stop, Deadline deadline, WakeUpDelay& delay) {
  const auto wake_at = deadline - delay.margin();
  if (steady_clock::now() >= wake_at) return Waited::timed_out;
  const auto waited = wait_until(fd, events, stop, wake_at);
  if (waited == Waited::timed_out) delay.note(steady_clock::now() - wake_at);
  return waited;
}

Waited wait_exactly_until(int fd, short events, const StopEvent& stop, Deadline deadline, WakeUpDelay& delay) {
  const auto waited = wait_nearly_until(fd, events, stop, deadline, delay);
  if (waited != Waited::timed_out) return waited;
  while (steady_clock::now() < deadline) continue;
  return wait_until(fd, events, stop, deadline); // looks once
}

} // namespace oxherd::drivers
