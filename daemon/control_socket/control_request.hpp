#pragma once

#include <string>
#include <variant>

#include <nlohmann/json_fwd.hpp>
#include <tl/expected.hpp>

#include "daemon/control/plant_control.hpp"

namespace oxherd::daemon {

/// What a person orders an actuator to do, by the name of its output.
struct ActuatorRequest {
  std::string output;
  control::ActuatorOrder order;
};
/// What a person orders a loop, or its program, to do.
struct LoopRequest {
  std::string room, loop;
  PlantControl::LoopOrder order;
};
using ControlRequest = std::variant<ActuatorRequest, LoopRequest>;

/// Reads a request with "act" and either "output" or "room" and "loop". The error is a text for the person.
[[nodiscard]] tl::expected<ControlRequest, std::string> parse_control(const nlohmann::json& request);
[[nodiscard]] std::string author_of(const ControlRequest& request);
/// The acts by their names, for a person.
[[nodiscard]] std::string control_act_names();

} // namespace oxherd::daemon
