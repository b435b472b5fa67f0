#pragma once

#include <algorithm>
#include <cmath>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "daemon/outputs/output_keeper.hpp"
#include "demo/devices.hpp"
#include "demo/plant.hpp"
#include "demo/story.hpp"
#include "tests/simulation/interlock_watch.hpp"

namespace oxherd::simulation {

/// One room of the simulated Larkfield site in a closed loop: its sensors are polled, the decision core decides, what
/// it wants is written to the simulated modules in Modbus words, and the modules drive the room. All on one simulated
/// clock, which begins at 08:00 of the day. At every beat the room is held against the interlocks of its gases.
class ControlledSite {
public:
  struct Options {
    std::string room;
    std::chrono::milliseconds every{10000}; ///< poll period of all sensors; the file's own is one or two seconds
    std::chrono::milliseconds beat{5000};   ///< between evaluations; a pulse of carbon dioxide lasts 5 s
    std::string story{};
    std::uint64_t seed = 1;
  };
  explicit ControlledSite(const Options& options);

  /// Lets time pass; `look` after every beat. What violated an interlock fails the test.
  void run(std::chrono::seconds length, const std::function<void()>& look = {});
  /// The same, until something is so.
  /// @return how long it took, s; NAN: it was not so within `at_most`
  double run_until(const std::function<bool()>& is_so, std::chrono::seconds at_most);
  void beat();

  /// Makes something happen in the simulated world at once, as a line of a story without its time.
  void happen(const std::string& order);

  // What persons do; what is said to them, empty: it was done.
  std::string order(const std::string& output, control::ActuatorAct act, double at = 1.0,
                    std::chrono::minutes time = std::chrono::minutes{60});
  std::string set_regime(alarms::Regime regime);
  void seal();                         ///< ventilated first, so that it is a new sealing; nobody is in
  void acknowledge_and_reset_alarms(); ///< every alarm of the room

  // The truth.
  [[nodiscard]] const demo::Room& truth() const { return *world_.room(options_.room); }
  [[nodiscard]] double oxygen() const { return truth().gas().oxygen(); }                 ///< dry fraction
  [[nodiscard]] double carbon_dioxide() const { return truth().gas().carbon_dioxide(); } ///< dry fraction
  [[nodiscard]] double temperature_C() const { return truth().air().temperature.si() - 273.15; }
  [[nodiscard]] double vapour_pressure_deficit_Pa() const;
  [[nodiscard]] const demo::PlantState& plant() const { return *truth().plant(); }
  [[nodiscard]] double seconds() const { return std::chrono::duration<double>(world_.now()).count(); }
  [[nodiscard]] double hour() const { return demo::hour_of_day(seconds()); }
  [[nodiscard]] bool lit() const { return demo::light(seconds()) > 0.0; }

  /// One switching of something in the plant, as the module has it.
  struct Switching {
    double at_s = 0.0;
    bool on = false;
  };
  [[nodiscard]] const std::vector<Switching>& switchings(demo::Actuator actuator) const;
  [[nodiscard]] int starts(demo::Actuator actuator) const;

  // What the daemon says.
  [[nodiscard]] const daemon::Site& site() const { return site_; }
  [[nodiscard]] double driven(const std::string& output) const { return site_.control().driven(output); }
  [[nodiscard]] bool is_blocked(const std::string& output, control::Condition condition) const;
  [[nodiscard]] std::string because(const std::string& output) const;
  [[nodiscard]] double set_point(const std::string& output) const; ///< of its loop, SI
  [[nodiscard]] alarms::State state(const std::string& alarm) const;
  [[nodiscard]] std::string events_of(const std::string& output) const; ///< "start tripped run-ended"

private:
  [[nodiscard]] daemon::Monotonic now() const;
  [[nodiscard]] daemon::WallTime wall() const;
  [[nodiscard]] daemon::ActuatorView view(const std::string& output) const;
  void keep(const daemon::Outcome& outcome);
  void write_outputs();
  void note_switchings();

  Options options_;
  demo::Site world_;
  demo::Player player_;
  demo::Devices devices_;
  daemon::Site site_;
  daemon::OutputKeeper outputs_;
  std::size_t room_;
  InterlockWatch interlocks_;
  std::map<demo::Actuator, std::vector<Switching>> switchings_;
  bool opened_since_ = false;              ///< the door truly was, since a person last said what regime holds
  std::vector<daemon::AlarmRecord> lines_; ///< of the journal about actuators
};

/// How far something of the plant works, 0 to 1. What airs a room works while it is open.
[[nodiscard]] double at_work(const demo::PlantState& plant, demo::Actuator actuator);

/// The least and greatest of what was looked at.
struct Span {
  double least = INFINITY, most = -INFINITY;
  void take(double value) {
    least = std::min(least, value);
    most = std::max(most, value);
  }
};

/// The shortest whole time on, and off between two times on, s.
struct ShortestTimes {
  double on_s = INFINITY, off_s = INFINITY;
};
[[nodiscard]] ShortestTimes shortest_times(const std::vector<ControlledSite::Switching>& switchings);
/// The most starts that lie within one hour.
[[nodiscard]] int most_starts_within_an_hour(const std::vector<ControlledSite::Switching>& switchings);

} // namespace oxherd::simulation
