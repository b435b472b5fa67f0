#pragma once

#include <optional>

#include "alarms/rules/delays.hpp"
#include "alarms/rules/step.hpp"

namespace oxherd::alarms {

/// An actuator of the room was stopped for good by an interlock, and waits for a person. No delay unless the settings
/// ask for one: it has happened.
struct ControlTripped {
  Monotonic on_delay{0};
  Monotonic off_delay{0};
};

struct ControlTrippedState {
  Phase phase = Phase::clear;
  Monotonic since{0};
  friend bool operator==(const ControlTrippedState&, const ControlTrippedState&) = default;
};

/// One step.
/// @checked tests/alarms/control_tripped_test.cpp
[[nodiscard]] Step<ControlTrippedState> next(const ControlTripped& rule, ControlTrippedState state, const RuleInput& in,
                                             Monotonic now);
[[nodiscard]] ControlTrippedState restored(const ControlTripped& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const ControlTripped& rule);
[[nodiscard]] std::optional<Channel> value_of(const ControlTripped& rule, const ControlTrippedState& state,
                                              const RuleInput& in);       ///< none
[[nodiscard]] std::optional<double> limit_of(const ControlTripped& rule); ///< none

} // namespace oxherd::alarms
