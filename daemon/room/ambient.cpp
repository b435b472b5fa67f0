#include "daemon/room/ambient.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "compensation/barometry.hpp"

namespace oxherd::daemon {
namespace {

using alarms::Reason;
using alarms::ReasonKind;
using alarms::Status;
using config::Measurand;

/// Weather moves the station pressure by about this much about the standard atmosphere: proposal of the project.
constexpr double weather_u_Pa = 800.0;
/// 50 % ± 50 %, rectangular (GUM 4.3.7): half width / sqrt(3).
constexpr double unknown_humidity_u = 0.28867513459481287;

std::optional<PointRef> find_point(const config::Settings& settings, SensorRef at, Measurand measurand) {
  const auto point = point_of(settings.rooms[at.room].sensors[at.sensor], measurand);
  return point ? std::optional{PointRef{at, *point}} : std::nullopt;
}

std::optional<PointRef> first_in_room(const config::Settings& settings, std::size_t room, Measurand measurand) {
  for (std::size_t s = 0; s < settings.rooms[room].sensors.size(); ++s)
    if (auto found = find_point(settings, {room, s}, measurand)) return found;
  return std::nullopt;
}

std::optional<SensorRef> sensor_named(const config::Settings& settings, const std::string& reference) {
  for (std::size_t r = 0; r < settings.rooms.size(); ++r)
    for (std::size_t s = 0; s < settings.rooms[r].sensors.size(); ++s)
      if (settings.rooms[r].name + "/" + settings.rooms[r].sensors[s].name == reference) return SensorRef{r, s};
  return std::nullopt;
}

std::optional<PointRef> referenced(const config::Settings& settings, const std::optional<std::string>& reference,
                                   Measurand measurand) {
  if (!reference) return std::nullopt;
  const auto sensor = sensor_named(settings, *reference);
  return sensor ? find_point(settings, *sensor, measurand) : std::nullopt;
}

void resolve_pressure(const config::Settings& settings, std::size_t room, AmbientSources& sources) {
  const std::optional<std::string> references[] = {settings.rooms[room].pressure_from, std::nullopt,
                                                   settings.site.barometer};
  for (std::size_t i = 0; i < std::size(references) && !sources.pressure; ++i)
    for (const auto measurand : {Measurand::pressure, Measurand::sea_level_pressure}) {
      if (sources.pressure) break;
      sources.pressure =
          i == 1 ? first_in_room(settings, room, measurand) : referenced(settings, references[i], measurand);
      sources.pressure_is_sea_level = measurand == Measurand::sea_level_pressure;
    }
}

JudgedChannel judged_at(const config::Settings& settings, const SensorStates& states, PointRef at, Monotonic now) {
  return judge(settings.rooms[at.sensor.room].sensors[at.sensor.sensor], states[at.sensor.room][at.sensor.sensor],
               at.point, now);
}

/// A value that is there but out of specification (a status bit, say) says so in what it is used for.
void pass_on_uncertain(const char* what, const JudgedChannel& judged, std::vector<Reason>& reasons) {
  if (judged.status == Status::out_of_specification)
    reasons.push_back({Status::out_of_specification, fmt::format("{}: {}", what, cause_of(judged))});
}

/// Last known temperature, trusted less as it ages.
Uncertain<Temperature> temperature_without_probe(const config::Room& room, const SensorState& state, std::size_t point,
                                                 Monotonic now) {
  if (point >= state.channels.size() || !state.channels[point].last_good) return room.assumed_temperature;
  const double hours =
      std::chrono::duration<double, std::ratio<3600>>(now - state.channels[point].last_good_at).count();
  const double u_K = std::min(std::hypot(1.0, hours), std::max(1.0, room.assumed_temperature.u_si));
  return {kelvins(*state.channels[point].last_good), u_K};
}

/// @param lost  the kind of reason to give where there is no value
Uncertain<Temperature> temperature_of(const config::Settings& settings, std::size_t room,
                                      const std::optional<PointRef>& source, const SensorStates& states, Monotonic now,
                                      ReasonKind lost, std::vector<Reason>& reasons) {
  if (!source) return settings.rooms[room].assumed_temperature;
  const auto judged = judged_at(settings, states, *source, now);
  if (judged.si) {
    pass_on_uncertain("temperature", judged, reasons);
    return {kelvins(*judged.si), judged.u_si};
  }
  const auto substitute = temperature_without_probe(
      settings.rooms[room], states[source->sensor.room][source->sensor.sensor], source->point, now);
  reasons.push_back({Status::out_of_specification,
                     fmt::format("temperature probe lost ({}): {:.1f} °C ± {:.1f} K assumed", cause_of(judged),
                                 substitute.value.si() - 273.15, 2.0 * substitute.u_si),
                     lost});
  return substitute;
}

Uncertain<RelativeHumidity> humidity_of(const config::Settings& settings, const std::optional<PointRef>& source,
                                        const SensorStates& states, Monotonic now, std::vector<Reason>& reasons) {
  const Uncertain<RelativeHumidity> unknown{percent_humidity(50.0), unknown_humidity_u};
  if (!source) return unknown;
  const auto judged = judged_at(settings, states, *source, now);
  if (judged.si) {
    pass_on_uncertain("humidity", judged, reasons);
    // A probe in saturated air may show a little over 100 %; more vapour than saturation there is not.
    return {RelativeHumidity::from_si(std::clamp(*judged.si, 0.0, 1.0)), judged.u_si};
  }
  reasons.push_back({Status::out_of_specification,
                     fmt::format("humidity probe lost ({}): 50 % ± 50 % assumed", cause_of(judged)),
                     ReasonKind::humidity_lost});
  return unknown;
}

Uncertain<Pressure> standard_atmosphere(const config::Site& site) {
  const auto p = compensation::standard_pressure(compensation::geopotential(site.elevation));
  return {p ? *p : pascals(101325.0), weather_u_Pa}; // the settings admit only elevations that are covered
}

Uncertain<Pressure> pressure_of(const config::Settings& settings, const AmbientSources& sources,
                                const SensorStates& states, Monotonic now, std::vector<Reason>& reasons) {
  if (!sources.pressure) return standard_atmosphere(settings.site);
  auto judged = judged_at(settings, states, *sources.pressure, now);
  if (judged.si && !sources.pressure_is_sea_level) {
    pass_on_uncertain("pressure", judged, reasons);
    return {pascals(*judged.si), judged.u_si};
  }
  if (judged.si) {
    const auto station = compensation::station_pressure(SeaLevelPressure::from_si(*judged.si),
                                                        compensation::geopotential(settings.site.elevation));
    if (station) {
      pass_on_uncertain("pressure", judged, reasons);
      return {*station, judged.u_si};
    }
    judged.reasons.push_back({Status::failure, "sea-level pressure outside the standard atmosphere"});
  }
  const auto substitute = standard_atmosphere(settings.site);
  reasons.push_back({Status::out_of_specification,
                     fmt::format("pressure probe lost ({}): {:.1f} kPa ± {:.1f} kPa assumed from the elevation",
                                 cause_of(judged), substitute.value.si() / 1e3, 2.0 * substitute.u_si / 1e3),
                     ReasonKind::pressure_lost});
  return substitute;
}

} // namespace

AmbientSources resolve_ambient(const config::Settings& settings, std::size_t room) {
  AmbientSources sources;
  const config::Room& r = settings.rooms[room];
  sources.temperature = referenced(settings, r.temperature_from, Measurand::temperature);
  if (!sources.temperature) sources.temperature = first_in_room(settings, room, Measurand::temperature);
  sources.humidity = referenced(settings, r.humidity_from, Measurand::humidity);
  if (!sources.humidity) sources.humidity = first_in_room(settings, room, Measurand::humidity);
  resolve_pressure(settings, room, sources);
  if (sources.humidity && (!sources.temperature || !(sources.humidity->sensor == sources.temperature->sensor)))
    sources.humidity_temperature = find_point(settings, sources.humidity->sensor, Measurand::temperature);
  return sources;
}

std::array<std::optional<PointRef>, 4> sources_of(const AmbientSources& sources) {
  return {sources.temperature, sources.humidity, sources.humidity_temperature, sources.pressure};
}

bool is_source(const AmbientSources& sources, SensorRef sensor) {
  const auto all = sources_of(sources);
  return std::any_of(all.begin(), all.end(), [&](const auto& point) { return point && point->sensor == sensor; });
}

std::string name_of(const config::Settings& settings, SensorRef at) {
  return settings.rooms[at.room].name + "/" + settings.rooms[at.room].sensors[at.sensor].name;
}

void describe_sources(const config::Settings& settings, std::size_t room, const AmbientSources& sources,
                      ReadingBasis& basis) {
  const auto probe = [&](const std::optional<PointRef>& point) { return name_of(settings, point->sensor); };
  basis.temperature_from =
      sources.temperature
          ? probe(sources.temperature)
          : fmt::format("no probe: {:.1f} °C assumed", settings.rooms[room].assumed_temperature.value.si() - 273.15);
  basis.humidity_from = sources.humidity ? probe(sources.humidity) : "no probe: 50 % ± 50 % assumed";
  const double elevation_m = settings.site.elevation.si();
  if (!sources.pressure)
    basis.pressure_from = fmt::format("no barometer: standard atmosphere (ISO 2533) at {:g} m", elevation_m);
  else if (sources.pressure_is_sea_level)
    basis.pressure_from =
        fmt::format("{}, reduced to sea level, brought to {:g} m", probe(sources.pressure), elevation_m);
  else
    basis.pressure_from = probe(sources.pressure);
}

Ambient ambient_of(const config::Settings& settings, std::size_t room, const AmbientSources& sources,
                   const SensorStates& states, Monotonic now) {
  Ambient ambient;
  ambient.gas.temperature =
      temperature_of(settings, room, sources.temperature, states, now, ReasonKind::temperature_lost, ambient.reasons);
  ambient.gas.humidity = humidity_of(settings, sources.humidity, states, now, ambient.reasons);
  if (sources.humidity_temperature)
    ambient.gas.humidity_temperature = temperature_of(settings, room, sources.humidity_temperature, states, now,
                                                      ReasonKind::humidity_temperature_lost, ambient.reasons);
  ambient.gas.pressure = pressure_of(settings, sources, states, now, ambient.reasons);
  return ambient;
}

} // namespace oxherd::daemon
