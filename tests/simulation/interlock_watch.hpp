#pragma once

#include <map>
#include <string>
#include <vector>

#include "daemon/control/plant_control.hpp"
#include "demo/room.hpp"

namespace oxherd::simulation {

/// Holds what the daemon drives against the interlocks of gases, twice: by the conditions that it reports itself, which
/// end the gas at the same evaluation, and by the truth of the simulated room, which may be known to it one cycle
/// later.
/// @checked tests/simulation/interlock_watch_test.cpp
class InterlockWatch {
public:
  /// @param cycle_s  a poll and an evaluation
  explicit InterlockWatch(double cycle_s) : cycle_s_{cycle_s} {}

  struct Seen {
    const demo::Room& room;
    const std::vector<daemon::ActuatorView>& actuators;
    bool sealed_by_person = false; ///< and the door truly closed since
    bool lit = false;
    double at_s = 0.0;
  };
  /// To be called once a beat.
  /// @return what is wrong, empty: nothing
  [[nodiscard]] std::vector<std::string> look(const Seen& seen);

private:
  struct Needed {
    std::string what;
    bool holds = false;
    double known_after_s = 0.0; ///< how much later a probe can know it
  };
  [[nodiscard]] static std::vector<Needed> needed_by(control::Duty duty, const Seen& seen);

  double cycle_s_;
  std::map<std::string, double> lacking_since_s_; ///< of "output: what", while gas is let in all the same
};

} // namespace oxherd::simulation
