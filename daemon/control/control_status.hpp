#pragma once

#include <vector>

#include "daemon/control/plant_control.hpp"
#include "daemon/records.hpp"

namespace oxherd::daemon {

/// The actuators of a room as answers show them; times on the clock of the wall follow from how long ago or ahead.
[[nodiscard]] std::vector<ActuatorStatus> actuator_statuses(const std::vector<ActuatorView>& views, Monotonic now,
                                                            WallTime wall);
/// "waiting", "following", "held", "finished", "stopped", "stopped-by-outage".
[[nodiscard]] std::string_view name_of(control::ProgramPhase phase);

} // namespace oxherd::daemon
