#pragma once

#include <string>
#include <vector>

#include "daemon/room/site.hpp"
#include "demo/site.hpp"
#include "demo/story.hpp"

namespace oxherd::simulation {

/// The simulated Larkfield site and the daemon's decision core side by side on one simulated clock: registers are read
/// and decoded as a bus thread would, without sockets and without waiting.
class SimulatedDay {
public:
  /// @param every  poll period of all sensors (the file's own is one or two seconds)
  /// @param beat   between evaluations; half a second where delays matter
  SimulatedDay(std::uint64_t seed, const std::string& story, std::chrono::milliseconds every,
               std::chrono::milliseconds beat = std::chrono::milliseconds{500});

  struct Seen {
    daemon::ReadingRecord reading;
    double true_dry = 0.0;
  };
  struct Change {
    double at_s = 0.0; ///< simulated seconds since the start
    daemon::AlarmRecord record;
  };
  /// Lets the ambient probes answer once only, and believes that answer for days: oxygen is then corrected by the same
  /// air all the time.
  void hold_the_air();
  /// Runs for this long, polling and ticking on simulated time.
  void run(std::chrono::seconds length);

  std::vector<daemon::ReadingRecord> readings; ///< every reading of every sensor, as it would be recorded
  std::vector<Seen> oxygen;                    ///< every reading of an oxygen cell, bad ones too
  std::vector<Change> changes;
  [[nodiscard]] const daemon::Site& site() const { return site_; }

private:
  void poll(std::size_t room, std::size_t sensor);
  void keep(const daemon::Outcome& outcome);
  [[nodiscard]] daemon::Monotonic now() const;

  demo::Site world_;
  demo::Player player_;
  daemon::Site site_;
  std::chrono::milliseconds every_, beat_;
  bool air_is_held_ = false;
};

} // namespace oxherd::simulation
