#pragma once

#include "config/alarm_defaults.hpp"
#include "config/table_reader.hpp"

namespace oxherd::config {

/// The key `condition`; when the file is silent a limit, and for a door that it is open for too long.
[[nodiscard]] Condition read_condition(TableReader& in, AlarmQuantity quantity);

/// The rule of an alarm: the keys that its condition has, with deadband and delays. Reports what is wrong or missing.
/// @param kind  without its direction, which the file gives where a condition has one
[[nodiscard]] alarms::Rule read_rule(TableReader& in, AlarmKind kind);

/// In which direction the values of a quantity are worse, seen by this rule: low for a fall and for a low limit.
[[nodiscard]] alarms::Direction direction_of(const alarms::Rule& rule);

} // namespace oxherd::config
