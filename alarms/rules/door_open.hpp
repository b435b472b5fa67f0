#pragma once

#include <optional>

#include "alarms/rules/delays.hpp"
#include "alarms/rules/step.hpp"

namespace oxherd::alarms {

/// A door has been open for too long; the on-delay is the time permitted.
struct DoorOpen {
  Monotonic on_delay{std::chrono::seconds{120}}; ///< of 60 s to 180 s that are usual (common practice, no source)
  Monotonic off_delay{0};
};

struct DoorOpenState {
  Phase phase = Phase::clear;
  Monotonic since{0};
  friend bool operator==(const DoorOpenState&, const DoorOpenState&) = default;
};

/// One step. An input that is lost starts nothing and ends nothing; a door that was open goes on counting.
/// @checked tests/alarms/door_open_test.cpp
[[nodiscard]] Step<DoorOpenState> next(const DoorOpen& rule, DoorOpenState state, const RuleInput& in, Monotonic now);
[[nodiscard]] DoorOpenState restored(const DoorOpen& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const DoorOpen& rule);
[[nodiscard]] std::optional<Channel> value_of(const DoorOpen& rule, const DoorOpenState& state,
                                              const RuleInput& in); ///< none
[[nodiscard]] std::optional<double> limit_of(const DoorOpen& rule); ///< none

} // namespace oxherd::alarms
