#include "control/duty.hpp"

namespace oxherd::control {
namespace {

using std::chrono::minutes;
using std::chrono::seconds;

} // namespace

std::string_view name_of(Duty duty) {
  switch (duty) {
  case Duty::nitrogen_purge: return "nitrogen-purge";
  case Duty::carbon_dioxide_dosing: return "carbon-dioxide-dosing";
  case Duty::ethylene_dosing: return "ethylene-dosing";
  case Duty::scrubbing: return "scrubbing";
  case Duty::fresh_air: return "fresh-air";
  case Duty::ventilation: return "ventilation";
  case Duty::circulation: return "circulation";
  case Duty::heating: return "heating";
  case Duty::cooling: return "cooling";
  case Duty::humidifying: return "humidifying";
  case Duty::drying: return "drying";
  }
  return "";
}

std::string_view words_of(Duty duty) {
  switch (duty) {
  case Duty::nitrogen_purge: return "the nitrogen purge";
  case Duty::carbon_dioxide_dosing: return "the dosing of carbon dioxide";
  case Duty::ethylene_dosing: return "the dosing of ethylene";
  case Duty::scrubbing: return "the scrubber";
  case Duty::fresh_air: return "the fresh air";
  case Duty::ventilation: return "the ventilation";
  case Duty::circulation: return "the circulation";
  case Duty::heating: return "the heating";
  case Duty::cooling: return "the cooling";
  case Duty::humidifying: return "the humidifier";
  case Duty::drying: return "the dryer";
  }
  return "";
}

DutyFacts facts_of(Duty duty) {
  switch (duty) {
  case Duty::nitrogen_purge:
    // A purge from air to 2 % takes half a day in a usual store; longer is a leak, an empty supply or a wrong cell.
    return {.gas = true, .times = {seconds{30}, seconds{30}, std::chrono::hours{24}, {}}};
  case Duty::carbon_dioxide_dosing: return {.gas = true, .times = {seconds{2}, seconds{60}, seconds{5}, {}}};
  case Duty::ethylene_dosing: return {.gas = true, .times = {seconds{2}, seconds{60}, seconds{5}, {}}};
  case Duty::scrubbing: return {.times = {seconds{30}, seconds{30}, {}, {}}};
  case Duty::fresh_air:
    return {.airs = true, .safe = SafeState::on_for_people, .times = {seconds{30}, seconds{30}, {}, {}}};
  case Duty::ventilation:
    return {.airs = true, .safe = SafeState::on_for_people, .times = {minutes{1}, minutes{1}, {}, {}}};
  case Duty::circulation: return {.times = {minutes{1}, minutes{1}, {}, {}}};
  case Duty::heating: return {.times = {seconds{30}, seconds{30}, {}, {}}};
  case Duty::cooling: return {.times = {minutes{3}, minutes{5}, {}, 6}}; // a compressor
  case Duty::humidifying: return {.times = {seconds{60}, seconds{60}, {}, {}}};
  case Duty::drying: return {.times = {minutes{3}, minutes{5}, {}, 6}}; // a compressor
  }
  return {};
}

std::string_view name_of(ProcessValue value) {
  switch (value) {
  case ProcessValue::oxygen: return "oxygen";
  case ProcessValue::oxygen_partial_pressure: return "oxygen-partial-pressure";
  case ProcessValue::carbon_dioxide: return "carbon-dioxide";
  case ProcessValue::temperature: return "temperature";
  case ProcessValue::humidity: return "humidity";
  case ProcessValue::dew_point: return "dew-point";
  case ProcessValue::vapour_pressure_deficit: return "vapour-pressure-deficit";
  case ProcessValue::over_pressure: return "over-pressure";
  }
  return "";
}

std::optional<Effect> effect_of(Duty duty, ProcessValue on) {
  using enum ProcessValue;
  const bool is_oxygen = on == oxygen || on == oxygen_partial_pressure;
  const bool is_moisture = on == humidity || on == dew_point;
  switch (duty) {
  case Duty::nitrogen_purge:
    if (is_oxygen || on == carbon_dioxide) return Effect::lowers;
    return std::nullopt;
  case Duty::carbon_dioxide_dosing:
    if (on == carbon_dioxide) return Effect::raises;
    return std::nullopt;
  case Duty::ethylene_dosing: return std::nullopt; // not measured: it is dosed by time and by hand
  case Duty::scrubbing:
    if (on == carbon_dioxide) return Effect::lowers;
    return std::nullopt;
  case Duty::fresh_air:
  case Duty::ventilation:
    if (is_oxygen) return Effect::raises;
    if (on == carbon_dioxide || on == temperature || is_moisture) return Effect::lowers;
    if (on == over_pressure) return duty == Duty::fresh_air ? Effect::raises : Effect::lowers;
    return std::nullopt;
  case Duty::circulation: return std::nullopt; // runs by its program
  case Duty::heating:
    if (on == temperature || on == vapour_pressure_deficit) return Effect::raises;
    if (on == humidity) return Effect::lowers;
    return std::nullopt;
  case Duty::cooling:
    if (on == temperature || on == vapour_pressure_deficit || on == dew_point) return Effect::lowers;
    return std::nullopt;
  case Duty::humidifying:
    if (is_moisture) return Effect::raises;
    if (on == vapour_pressure_deficit) return Effect::lowers;
    return std::nullopt;
  case Duty::drying:
    if (is_moisture) return Effect::lowers;
    if (on == vapour_pressure_deficit) return Effect::raises;
    return std::nullopt;
  }
  return std::nullopt;
}

} // namespace oxherd::control
