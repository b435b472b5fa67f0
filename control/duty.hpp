#pragma once

#include <array>
#include <chrono>
#include <optional>
#include <string_view>

#include "alarms/time.hpp"

namespace oxherd::control {

using alarms::Monotonic;

/// What an actuator (a final control element: valve, fan, heater ...) does to the air of its room. Decides its
/// interlocks, its safe state and the least times between its switchings.
enum class Duty {
  nitrogen_purge,        ///< displaces oxygen; deadly
  carbon_dioxide_dosing, ///< for plants, or to reach a store's set-point
  ethylene_dosing,       ///< ripening rooms; flammable from 2.7 %
  scrubbing,             ///< takes carbon dioxide out
  fresh_air,             ///< lets outdoor air into a closed room
  ventilation,           ///< exchanges the air: vents, extract fan
  circulation,           ///< mixes the air of the room
  heating,
  cooling,
  humidifying,
  drying
};
inline constexpr std::array all_duties{
    Duty::nitrogen_purge, Duty::carbon_dioxide_dosing, Duty::ethylene_dosing, Duty::scrubbing,
    Duty::fresh_air,      Duty::ventilation,           Duty::circulation,     Duty::heating,
    Duty::cooling,        Duty::humidifying,           Duty::drying};

/// As in the file: "nitrogen-purge", "carbon-dioxide-dosing" ...
[[nodiscard]] std::string_view name_of(Duty duty);

/// What a person reads of it: "the nitrogen purge".
[[nodiscard]] std::string_view words_of(Duty duty);

/// Which state an actuator goes to when the measurement, the communication or the daemon is lost.
enum class SafeState {
  off,
  on,
  on_for_people ///< on where people may be, off in a room that is sealed with its door closed
};

/// 1 where that state is on, else 0.
[[nodiscard]] constexpr double output_of(SafeState safe, bool people_may_be_in) {
  return safe == SafeState::on || (safe == SafeState::on_for_people && people_may_be_in) ? 1.0 : 0.0;
}

/// The least and greatest times of one switched actuator. Interlocks and safe states ignore the least ones.
/// @source common practice, no source; each can be set in the file
struct SwitchingTimes {
  Monotonic on_least{0};            ///< once on, it stays on for so long
  Monotonic off_least{0};           ///< once off, it stays off for so long
  std::optional<Monotonic> on_most; ///< longer than this at a stretch is never wanted: a pulse, a purge, a run
  std::optional<int> starts_per_hour;
  friend bool operator==(const SwitchingTimes&, const SwitchingTimes&) = default;
};

/// What holds of a duty when the file says nothing else.
struct DutyFacts {
  bool gas = false;  ///< lets gas in that harms people: shut by every very low oxygen alarm
  bool airs = false; ///< brings fresh air: opened by every safety alarm where people may be
  SafeState safe = SafeState::off;
  SwitchingTimes times{};
};
[[nodiscard]] DutyFacts facts_of(Duty duty);

/// What a loop can hold.
enum class ProcessValue {
  oxygen,                  ///< dry mole fraction, ratio
  oxygen_partial_pressure, ///< Pa
  carbon_dioxide,          ///< mole fraction, ratio
  temperature,             ///< K
  humidity,                ///< relative, over water, ratio
  dew_point,               ///< K
  vapour_pressure_deficit, ///< Pa
  over_pressure            ///< of the room against its surroundings, Pa
};
inline constexpr std::array all_process_values{ProcessValue::oxygen,
                                               ProcessValue::oxygen_partial_pressure,
                                               ProcessValue::carbon_dioxide,
                                               ProcessValue::temperature,
                                               ProcessValue::humidity,
                                               ProcessValue::dew_point,
                                               ProcessValue::vapour_pressure_deficit,
                                               ProcessValue::over_pressure};
/// As in the file: "oxygen", "dew-point" ...
[[nodiscard]] std::string_view name_of(ProcessValue value);

/// Which way a process value goes while an actuator works.
enum class Effect { raises, lowers };
/// Empty: that duty cannot hold that value.
[[nodiscard]] std::optional<Effect> effect_of(Duty duty, ProcessValue on);

} // namespace oxherd::control
