#pragma once

#include <map>
#include <set>
#include <stdexcept>
#include <string>
#include <string_view>

#include "config/measurands.hpp"
#include "daemon/control/facts.hpp"
#include "daemon/room/ambient.hpp"
#include "tests/daemon/control/rig.hpp"

namespace oxherd::daemon::rig_test {

/// The first room of some settings with all that control looks at, none of it worked out by a site: each part can be
/// set by itself. Every sensor has answered just now; contacts say nothing, people are out, the door is shut.
class RoomLook {
public:
  explicit RoomLook(std::string_view text) : settings{settings_of(text)}, sources{resolve_ambient(settings, 0)} {
    states.emplace_back();
    for (const auto& sensor : room().sensors) {
      states.front().emplace_back();
      states.front().back().channels.resize(sensor.points.size());
      answer(sensor.name, 0.0);
    }
    regime.regime = alarms::Regime::sealed_low_oxygen;
    regime.by = "Mira";
    watched.oxygen = {{alarms::Quality::good, 0.02, 0.001, now}};
    watched.carbon_dioxide = {{alarms::Quality::good, 0.01, 0.001, now}};
    watched.monitored = true;
  }

  [[nodiscard]] const config::Room& room() const { return settings.rooms.front(); }
  /// A poll that brought this for each point of the sensor, SI.
  void answer(const std::string& sensor, double si) { poll(sensor, si, {}); }
  /// A poll that brought nothing.
  void miss(const std::string& sensor) {
    poll(sensor, 0.0, drivers::BusError{drivers::BusFault::timeout, 0, "no answer"});
  }
  [[nodiscard]] control::Facts facts() {
    doors = doors_of(room(), states.front(), now);
    return facts_of_room(view(), now);
  }
  [[nodiscard]] ControlView view() const {
    return {room(), states.front(), regime, doors, watched, safety_alarm, entry_withheld, Monotonic{0}};
  }

  config::Settings settings;
  AmbientSources sources;
  SensorStates states;
  RegimeStatement regime;
  Doors doors;
  WatchedQuantities watched;
  bool safety_alarm = false;
  std::optional<bool> entry_withheld = true;
  Monotonic now{1'000'000};

private:
  void poll(const std::string& name, double si, std::optional<drivers::BusError> error) {
    for (std::size_t s = 0; s < room().sensors.size(); ++s) {
      const auto& sensor = room().sensors[s];
      if (sensor.name != name) continue;
      Poll poll;
      poll.sensor = {0, s};
      poll.at = now;
      poll.error = std::move(error);
      poll.status.resize(sensor.status.size(), false);
      const auto fault = poll.error ? drivers::ValueFault::not_read : drivers::ValueFault::none;
      poll.values.resize(sensor.points.size(), {si, si, fault});
      take(sensor, states.front()[s], poll);
      return;
    }
    throw std::runtime_error{"no sensor " + name};
  }
};

} // namespace oxherd::daemon::rig_test
