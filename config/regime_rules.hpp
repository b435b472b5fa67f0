#pragma once

#include <vector>

#include "config/alarm_defaults.hpp"
#include "config/table_reader.hpp"

namespace oxherd::config {

/// Whether rooms with this regime in the file are kept at low oxygen at times, and ventilated before people enter.
[[nodiscard]] constexpr bool is_sealable(Regime regime) {
  return regime == Regime::sealed_low_oxygen || regime == Regime::ventilated_before_entry;
}

/// The regimes that a room with this one in the file can be in. People may be in any room at any time.
[[nodiscard]] std::vector<Regime> possible_regimes(Regime in_file);

/// The key `regime` of a room.
[[nodiscard]] std::optional<Regime> read_regime(TableReader& in);

/// The key `regimes` of an alarm, or what its kind has by default. None: in force in all of them.
/// In a room that can be sealed, safety alarms of what people breathe leave it out, since its air is deadly by intent,
/// and process alarms are for that regime alone. Too little CO2 matters only while it is dosed.
[[nodiscard]] std::vector<Regime> read_regimes_of_alarm(TableReader& in, const AlarmKind& kind);

/// The table `entry_lock` of a room.
[[nodiscard]] std::optional<alarms::EntryLock> read_entry_lock(TableReader& in);

} // namespace oxherd::config
