#include "daemon/control/process_value.hpp"

#include <algorithm>

#include <fmt/core.h>

#include "alarms/rules/standing_value.hpp"
#include "compensation/moist_air.hpp"

namespace oxherd::daemon {
namespace {

using control::ProcessValue;

ProcessReading of_a_gas(const std::vector<alarms::Channel>& channels, alarms::Direction unfavourable,
                        const WatchedQuantities& watched) {
  const auto standing = alarms::standing_value(channels, unfavourable);
  if (!watched.monitored || !standing)
    return {{}, false, watched.reason.empty() ? "no channel of the room is good" : watched.reason};
  const bool uncertain =
      standing->quality != alarms::Quality::good || standing->frozen || watched.vote_health != alarms::VoteHealth::full;
  return {standing->value, uncertain, uncertain ? watched.reason : std::string{}};
}

struct Probed {
  std::optional<double> si;
  std::string trouble;
  bool uncertain = false;
};

Probed probed(const config::Settings& settings, const SensorStates& states, const std::optional<PointRef>& at,
              const char* what, Monotonic now) {
  if (!at) return {{}, fmt::format("no probe measures {}", what), false};
  const auto& sensor = settings.rooms[at->sensor.room].sensors[at->sensor.sensor];
  const auto judged = judge(sensor, states[at->sensor.room][at->sensor.sensor], at->point, now);
  const auto trouble = fmt::format("{}: {}", name_of(settings, at->sensor), cause_of(judged));
  if (!judged.si) return {{}, trouble, false};
  const bool uncertain = alarms::quality_of(judged.status) != alarms::Quality::good;
  return {judged.si, uncertain ? trouble : std::string{}, uncertain};
}

/// What follows from the vapour in the air: its pressure is the humidity times saturation at the probe's temperature.
ProcessReading of_vapour(ProcessValue value, const Probed& humidity, const Probed& at_probe, const Probed& air) {
  for (const auto* one : {&humidity, &at_probe, &air})
    if (!one->si) return {{}, false, one->trouble};
  const auto probe_K = kelvins(*at_probe.si), air_K = kelvins(*air.si);
  const auto saturated = compensation::saturation_pressure_over_water(probe_K);
  const auto saturated_air = compensation::saturation_pressure_over_water(air_K);
  if (!saturated || !saturated_air) return {{}, false, "the temperature is beyond what vapour is known for"};
  const double vapour_Pa = std::clamp(*humidity.si, 0.0, 1.0) * saturated->si();
  ProcessReading reading;
  for (const auto* one : {&humidity, &at_probe, &air})
    if (one->uncertain) {
      reading.uncertain = true;
      reading.trouble = one->trouble;
    }
  if (value == ProcessValue::vapour_pressure_deficit) {
    reading.value = saturated_air->si() - vapour_Pa;
    return reading;
  }
  const auto dew_point = compensation::dew_point(pascals(vapour_Pa));
  if (!dew_point) return {{}, false, "the air is too dry for a dew point"};
  reading.value = dew_point->si();
  return reading;
}

} // namespace

ProcessReading process_value(ProcessValue value, const ControlView& view, const config::Settings& settings,
                             const AmbientSources& sources, const SensorStates& states, Monotonic now) {
  const auto temperature = [&] { return probed(settings, states, sources.temperature, "temperature", now); };
  const auto humidity = [&] { return probed(settings, states, sources.humidity, "humidity", now); };
  const auto as_reading = [](const Probed& one) { return ProcessReading{one.si, one.uncertain, one.trouble}; };
  switch (value) {
  case ProcessValue::oxygen: return of_a_gas(view.watched.oxygen, alarms::Direction::low, view.watched);
  case ProcessValue::oxygen_partial_pressure:
    return of_a_gas(view.watched.oxygen_partial_pressure, alarms::Direction::low, view.watched);
  case ProcessValue::carbon_dioxide:
    return of_a_gas(view.watched.carbon_dioxide, alarms::Direction::high, view.watched);
  case ProcessValue::temperature: return as_reading(temperature());
  case ProcessValue::humidity: return as_reading(humidity());
  case ProcessValue::dew_point:
  case ProcessValue::vapour_pressure_deficit: {
    const auto air = temperature();
    const auto probe =
        sources.humidity_temperature ? probed(settings, states, sources.humidity_temperature, "temperature", now) : air;
    return of_vapour(value, humidity(), probe, air);
  }
  case ProcessValue::over_pressure: {
    const auto found = over_pressure_of(view.room, view.sensors, now);
    return {found.value_Pa, false, found.trouble.empty() && !found.value_Pa ? "no probe measures it" : found.trouble};
  }
  }
  return {};
}

ShownUnit shown_unit_of(ProcessValue value) {
  switch (value) {
  case ProcessValue::oxygen: return {100.0, 0.0, "%", 2};
  case ProcessValue::oxygen_partial_pressure: return {1e-3, 0.0, "kPa", 2};
  case ProcessValue::carbon_dioxide: return {1e6, 0.0, "ppm", 0};
  case ProcessValue::temperature:
  case ProcessValue::dew_point: return {1.0, 273.15, "°C", 1};
  case ProcessValue::humidity: return {100.0, 0.0, "%RH", 1};
  case ProcessValue::vapour_pressure_deficit: return {1e-3, 0.0, "kPa", 2};
  case ProcessValue::over_pressure: return {1.0, 0.0, "Pa", 0};
  }
  return {};
}

std::string text_of(ProcessValue value, double si) {
  const auto unit = shown_unit_of(value);
  return fmt::format("{:.{}f} {}", (si - unit.offset) * unit.scale, unit.decimals, unit.symbol);
}

} // namespace oxherd::daemon
