#include "daemon/room/persons_unit.hpp"

#include <fmt/core.h>

namespace oxherd::daemon {

using config::AlarmQuantity;

PersonsUnit persons_unit(AlarmQuantity quantity) {
  switch (quantity) { // no default: a new quantity must not compile until it has its unit here
  case AlarmQuantity::oxygen: return {1e2, 2, "%", false};
  case AlarmQuantity::carbon_dioxide: return {1e6, 0, "ppm", false};
  case AlarmQuantity::oxygen_partial_pressure: return {1e-3, 2, "kPa", true};
  case AlarmQuantity::door:
  case AlarmQuantity::monitoring: break;
  }
  return {};
}

PersonsUnit persons_unit(const config::AlarmSettings& alarm) {
  const auto& rule = alarm.alarm.rule;
  PersonsUnit unit = persons_unit(alarm.quantity);
  if (std::holds_alternative<alarms::Limit>(rule) || alarms::limit_in(rule) == nullptr) return unit;
  if (std::holds_alternative<alarms::TimeToLimit>(rule)) return {1.0, 0, "min", true};
  if (std::holds_alternative<alarms::RateOfFall>(rule)) unit.name += " per minute";
  unit.named = true;
  return unit;
}

std::string in_persons_unit(const PersonsUnit& unit, double si) {
  const auto number = fmt::format("{:.{}f}", si * unit.per_si, unit.decimals);
  return unit.named ? number + " " + unit.name : number;
}

std::string as_a_person_wrote_it(const PersonsUnit& unit, double si) {
  return fmt::format("{:.6g}{}{}", si * unit.per_si, unit.named ? " " : "", unit.named ? unit.name : "");
}

const char* spoken(AlarmQuantity quantity) {
  switch (quantity) {
  case AlarmQuantity::oxygen: return "oxygen";
  case AlarmQuantity::oxygen_partial_pressure: return "the partial pressure of oxygen";
  case AlarmQuantity::carbon_dioxide: return "CO2";
  case AlarmQuantity::door:
  case AlarmQuantity::monitoring: break;
  }
  return "";
}

const char* unit_of(const config::AlarmSettings& alarm) {
  const auto& rule = alarm.alarm.rule;
  if (alarms::limit_in(rule) == nullptr) return "";
  if (std::holds_alternative<alarms::TimeToLimit>(rule)) return "min";
  const bool pressure = alarm.quantity == AlarmQuantity::oxygen_partial_pressure;
  if (std::holds_alternative<alarms::RateOfFall>(rule)) return pressure ? "Pa/min" : "1/min";
  return pressure ? "Pa" : "/";
}

} // namespace oxherd::daemon
