#pragma once

#include <optional>
#include <vector>

#include "config/settings.hpp"
#include "control/conditions.hpp"
#include "daemon/room/channel.hpp"
#include "daemon/room/contacts.hpp"
#include "daemon/room/room_alarms.hpp"
#include "daemon/room/room_regime.hpp"

namespace oxherd::daemon {

/// What the control of a room looks at. All of it lives as long as one evaluation.
struct ControlView {
  const config::Room& room;
  const std::vector<SensorState>& sensors;
  const RegimeStatement& regime;
  const Doors& doors;
  const WatchedQuantities& watched;
  bool safety_alarm = true;             ///< one of the room is not normal, or is out of service
  std::optional<bool> entry_withheld{}; ///< empty: the door has no lock
  Monotonic started{0};                 ///< of the site
};

/// The over-pressure of a room; empty `value`: not measured, and `trouble` says why. Not fitted: both empty.
struct OverPressureFound {
  std::optional<double> value_Pa, u_Pa;
  std::string trouble;
  bool missed = false; ///< its last poll failed; the value is that of the one before
};
[[nodiscard]] OverPressureFound over_pressure_of(const config::Room& room, const std::vector<SensorState>& sensors,
                                                 Monotonic now);

/// What holds of a whole room, alike for each of its actuators. What is one actuator's own is left open: its ceiling,
/// its device, what else airs or mixes the room, and whether oxygen falls.
/// @checked tests/daemon/control/facts_test.cpp
[[nodiscard]] control::Facts facts_of_room(const ControlView& view, Monotonic now);

} // namespace oxherd::daemon
