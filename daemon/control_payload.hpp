#pragma once

#include <string>
#include <vector>

#include "daemon/records.hpp"

namespace oxherd::daemon {

/// Actuators as a JSON array; each says its caution beside what it does.
[[nodiscard]] std::string actuators_payload(const std::vector<ActuatorStatus>& actuators);
/// One of them.
[[nodiscard]] std::string actuator_payload(const ActuatorStatus& actuator);

} // namespace oxherd::daemon
