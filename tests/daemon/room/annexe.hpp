#pragma once

#include <string>
#include <vector>

#include "compensation/oxygen_reading.hpp"
#include "daemon/room/site.hpp"

namespace oxherd::daemon::annexe_test {

/// A small Larkfield: the cryo-annexe with one to three cells and an air probe, driven by hand on a manual clock.
class Annexe {
public:
  explicit Annexe(int cells = 1, alarms::Scheme vote = alarms::Scheme::one_of_one);

  config::Settings settings;
  Calibrations calibrations;
  std::optional<Site> site;
  Monotonic now{1'000'000};
  WallTime wall{std::chrono::milliseconds{1'772'352'930'000}}; // 2026-03-01T08:15:30Z

  double oxygen = 0.2095; ///< true dry fraction at every cell
  double temperature_C = 21.0, humidity = 0.45, pressure_Pa = 98800.0;

  void start(); ///< makes the site from settings
  [[nodiscard]] Poll cell_poll(std::size_t cell, double dry) const;
  [[nodiscard]] Poll cell_volts(std::size_t cell, double volts) const;
  [[nodiscard]] Poll failed(std::size_t sensor, drivers::BusFault fault, int exception = 0) const;
  [[nodiscard]] Poll air_poll() const;
  Outcome pass(std::chrono::milliseconds time); ///< moves both clocks and ticks once
  /// One second: air, then every cell with the present truth, then a tick. Collects what came of it.
  Outcome second();
  Outcome seconds(int n);
  [[nodiscard]] alarms::State state(const std::string& alarm) const;
  [[nodiscard]] std::size_t air() const { return settings.rooms[0].sensors.size() - 1; }
};

/// Every transition of an alarm in an outcome, "normal>unacknowledged unacknowledged>...".
[[nodiscard]] std::string transitions(const Outcome& outcome, const std::string& alarm);

} // namespace oxherd::daemon::annexe_test
