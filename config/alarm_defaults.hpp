#pragma once

#include "config/settings.hpp"

namespace oxherd::config {

/// Name of the alarm that every room has and that no file can remove.
inline constexpr const char* not_monitored_name = "not-monitored";

/// Longest on-delay of a safety alarm without a reason; proposal of the project, of the 30 s that gas at the cell may
/// take to the horn.
inline constexpr std::chrono::milliseconds safety_on_delay_max{10000};

/// Name of the alarm of every room in which more than one channel votes.
inline constexpr const char* degraded_name = "degraded";

/// Name of the alarm of every room that answers for an output.
inline constexpr const char* output_lost_name = "output-lost";

/// Name of the alarm of every room with an actuator that can trip.
inline constexpr const char* control_tripped_name = "control-tripped";

/// The conditions that a file may ask for, key `condition`.
enum class Condition { limit, rate_of_fall, time_to_limit, time_average, disagreement, deviation, door_open };

/// What an alarm's starting values depend on.
struct AlarmKind {
  AlarmQuantity quantity = AlarmQuantity::oxygen;
  bool safety = true;
  Regime regime = Regime::occupied;
  alarms::Direction direction = alarms::Direction::low;
  Condition condition = Condition::limit;
};

/// Whether an alarm is of class "safety" when the file is silent: a limit and an average are what people are protected
/// by; the others say that something is coming or is wrong.
[[nodiscard]] bool is_safety_by_default(Condition condition);

/// Largest difference between good channels that is not worth a visit, SI unit; zero: none is known, it must be stated.
[[nodiscard]] double spread_by_default(AlarmQuantity quantity);

/// Starting values of an alarm; deadband in the unit of the number that the rule holds against its limit.
struct AlarmDefaults {
  double deadband = 0.0;
  std::chrono::milliseconds on_delay{0};
  std::chrono::milliseconds off_delay{0};
  alarms::Priority priority = alarms::Priority::high;
};
/// @param limit  of that number, for conditions whose deadband is a share of it
[[nodiscard]] AlarmDefaults defaults_of(const AlarmKind& kind, double limit = 0.0);

} // namespace oxherd::config
