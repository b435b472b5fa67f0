#pragma once

#include <vector>

#include "daemon/room/poll.hpp"
#include "drivers/poll.hpp"

namespace oxherd::drill {

using alarms::Monotonic;

/// When the thread of a bus asks which of its sensors, by the rules of the daemon's own: each once at once at the
/// start, ambient probes first, then each on its grid with the driver's back-off, one after the other.
class BusThread {
public:
  BusThread(const config::Settings& settings, std::size_t room);

  void start(Monotonic now);
  /// When it asks next; after that, whom.
  [[nodiscard]] Monotonic due() const;
  [[nodiscard]] daemon::SensorRef next() const { return sensors_[drivers::next_due(states_, first_round_)]; }
  /// The sensor that was next has been asked, which took so long.
  void asked(bool answered, Monotonic now, Monotonic took);
  /// When it has done with what it is at.
  [[nodiscard]] Monotonic free_at() const { return busy_until_; }
  /// It is at something else until then.
  void busy_until(Monotonic until) { busy_until_ = until; }
  /// It hangs, and asks the same again after a while.
  void hangs(Monotonic now);

private:
  std::vector<daemon::SensorRef> sensors_; ///< in the order of the daemon's tasks
  std::vector<drivers::Schedule> schedules_;
  std::vector<drivers::ScheduleState> states_;
  std::size_t first_round_ = 0;
  Monotonic busy_until_{0};
};

} // namespace oxherd::drill
