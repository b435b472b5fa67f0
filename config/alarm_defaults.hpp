#pragma once

#include "config/settings.hpp"

namespace oxherd::config {

/// Name of the alarm that every room has and that no file can remove.
inline constexpr const char* not_monitored_name = "not-monitored";

/// Longest on-delay of a safety alarm without a reason; proposal of the project, of the 30 s that gas at the cell may
/// take to the horn.
inline constexpr std::chrono::milliseconds safety_on_delay_max{10000};

/// What an alarm's starting values depend on.
struct AlarmKind {
  AlarmQuantity quantity = AlarmQuantity::oxygen;
  bool safety = true;
  Regime regime = Regime::occupied;
  alarms::Direction direction = alarms::Direction::low;
};

/// Starting values of an alarm; deadband in the SI unit of the limit.
struct AlarmDefaults {
  double deadband = 0.0;
  std::chrono::milliseconds on_delay{0};
  std::chrono::milliseconds off_delay{0};
  alarms::Priority priority = alarms::Priority::high;
};
[[nodiscard]] AlarmDefaults defaults_of(const AlarmKind& kind);

} // namespace oxherd::config
