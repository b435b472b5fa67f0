#pragma once

#include <string>
#include <string_view>

namespace oxherd::alarms {

/// Fixed cautions, shown wherever readings or alarms are.
[[nodiscard]] std::string_view caution_long();  ///< README, --help, headers of exports
[[nodiscard]] std::string_view caution_short(); ///< views and retained states
[[nodiscard]] std::string_view caution_log();   ///< at start and daily

/// The fields of an alarm message, already formatted for a person.
struct MessageFields {
  std::string room{}, value{};
  std::string lower{}; ///< the unfavourable end of the interval: the lower one for low alarms, the upper one for high
  std::string limit{}, since{}, emergency{}, reason{}, alarm{};
  std::string unit = "%";   ///< of value, lower and limit in the texts that do not have it themselves
  std::string site{}, by{}; ///< `by`: who has hidden or is testing the alarm
  std::string until{};
  std::string quantity{};  ///< "oxygen", "CO2", ...
  std::string reference{}; ///< what the number is about: a limit that is near, a set point, a time averaged over
};
[[nodiscard]] std::string low_oxygen_text(const MessageFields& f);
[[nodiscard]] std::string high_oxygen_text(const MessageFields& f);
/// For a limit below the oxygen of fresh air, as of a sealed room: nothing burns more easily there.
[[nodiscard]] std::string oxygen_above_limit_text(const MessageFields& f);
[[nodiscard]] std::string high_carbon_dioxide_text(const MessageFields& f);
[[nodiscard]] std::string low_carbon_dioxide_text(const MessageFields& f);
[[nodiscard]] std::string not_monitored_text(const MessageFields& f);   ///< needs room, since, reason
[[nodiscard]] std::string returned_text(const MessageFields& f);        ///< needs room, since (the return), value, unit
[[nodiscard]] std::string monitored_again_text(const MessageFields& f); ///< needs room, since (the return)
// These name the unit behind every number; all need room, quantity, value, limit, since, and lower where it is said.
[[nodiscard]] std::string falling_text(const MessageFields& f);
[[nodiscard]] std::string limit_near_text(const MessageFields& f); ///< needs reference, the limit that is near
/// Needs reference, the time averaged over; `which` is "LOW" or "HIGH".
[[nodiscard]] std::string average_text(const MessageFields& f, std::string_view which);
[[nodiscard]] std::string disagreement_text(const MessageFields& f);     ///< `lower`: what the uncertainties explain
[[nodiscard]] std::string deviation_text(const MessageFields& f);        ///< needs reference, the set point
[[nodiscard]] std::string degraded_text(const MessageFields& f);         ///< needs room, since, reason, limit (a time)
[[nodiscard]] std::string votes_again_text(const MessageFields& f);      ///< needs room, since (the return)
[[nodiscard]] std::string door_open_text(const MessageFields& f);        ///< needs room, since, limit (a time)
[[nodiscard]] std::string output_lost_text(const MessageFields& f);      ///< needs room, since, reason
[[nodiscard]] std::string outputs_again_text(const MessageFields& f);    ///< needs room, since (the return)
[[nodiscard]] std::string control_tripped_text(const MessageFields& f);  ///< needs room, since, reason
[[nodiscard]] std::string control_released_text(const MessageFields& f); ///< needs room, since (the return)
/// Needs alarm, until, by, reason; `how` is "shelved" or "out of service".
[[nodiscard]] std::string suppressed_text(const MessageFields& f, std::string_view how);
[[nodiscard]] std::string suppressed_by_design_text(const MessageFields& f); ///< needs alarm, reason
/// Of an alarm that has not been reset when it ceased to be in force; needs room, alarm, reason.
[[nodiscard]] std::string out_of_force_text(const MessageFields& f);
[[nodiscard]] std::string alarm_test_text(const MessageFields& f); ///< needs alarm, room, site, since, by
/// Appended when the guard band alone makes the alarm: value itself within the limit.
[[nodiscard]] std::string guard_band_text(std::string_view value, std::string_view expanded, std::string_view unit,
                                          std::string_view reason);

} // namespace oxherd::alarms
