#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "compensation/units.hpp"
#include "config/settings.hpp"

namespace oxherd::daemon::rehearse {

/// What a column of recorded data holds.
enum class Role { none, value, u_value, po2, u_po2, quality, status, reason, room, sensor };

/// One column as its name tells it.
struct ColumnMeaning {
  Role role = Role::none;
  std::optional<config::Measurand> gas;   ///< of values; absent: that of the sensor it names
  std::optional<compensation::Unit> unit; ///< fraction or pressure
  std::string sensor;                     ///< "room/sensor" or "sensor"; empty: the room's only one
};

/// Reads the names that `oxherd history --csv` and `oxherd correct` write, and those a person would give: "oxygen [%]",
/// "carbon-dioxide [ppm]", "cryo-annexe/cell-a [%]", the same with "u " in front for the standard uncertainty,
/// "quality", and "quality cryo-annexe/cell-a".
/// @param unit_below  from a line of units under the header; empty: none
[[nodiscard]] ColumnMeaning meaning_of(std::string_view name, std::string_view unit_below);

} // namespace oxherd::daemon::rehearse
