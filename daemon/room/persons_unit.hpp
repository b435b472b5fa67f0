#pragma once

#include <string>

#include "config/settings.hpp"

namespace oxherd::daemon {

/// What messages give numbers in: oxygen in %, CO2 in ppm, a partial pressure in kPa, a time left in minutes.
struct PersonsUnit {
  double per_si = 1.0;
  int decimals = 0;
  std::string name{};
  bool named = false; ///< behind every number; the texts of plain limits have the others' units already
};
[[nodiscard]] PersonsUnit persons_unit(config::AlarmQuantity quantity);
/// Of the number that the rule of an alarm holds against its limit; named, unless it is a plain limit.
[[nodiscard]] PersonsUnit persons_unit(const config::AlarmSettings& alarm);

[[nodiscard]] std::string in_persons_unit(const PersonsUnit& unit, double si);      ///< "19.75", "0.31 % per minute"
[[nodiscard]] std::string as_a_person_wrote_it(const PersonsUnit& unit, double si); ///< "19.5", not "19.50"
/// "oxygen", "the partial pressure of oxygen", "CO2"; empty for the monitoring.
[[nodiscard]] const char* spoken(config::AlarmQuantity quantity);

/// The unit of an alarm's value and limit in records: that of the number its rule looks at.
/// @source  RFC 8428, section 12.1, "/" and "Pa"; RFC 8798, "1/min" and "min" (both from memory); "Pa/min" is ours
[[nodiscard]] const char* unit_of(const config::AlarmSettings& alarm);

} // namespace oxherd::daemon
