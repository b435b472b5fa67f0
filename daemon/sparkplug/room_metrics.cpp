#include "daemon/sparkplug/room_metrics.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <string_view>

#include "alarms/patterns.hpp"
#include "config/cross_checks.hpp"
#include "config/measurands.hpp"
#include "daemon/si_scale.hpp"

namespace oxherd::daemon::sparkplug {
namespace {

using config::Measurand;
using Number = std::optional<double>;

/// A number that a reading can hold, under the name and in the unit that its SenML pack has it.
struct Quantity {
  std::string_view name, unit;
  Measurand measurand; ///< of the sensors that give it
  bool of_cell;        ///< of those among them that have a cell alone
  Number (*in)(const ReadingRecord&);
};

template <class Of> Number of_oxygen(const ReadingRecord& r, Of of) {
  return r.oxygen ? Number{of(*r.oxygen)} : std::nullopt;
}
Number beside(const Number& value, double u) { return value ? Number{u} : std::nullopt; }

/// A difference of degrees Celsius is one of kelvins.
constexpr std::array quantities{
    Quantity{"oxygen", "/", Measurand::oxygen, false,
             [](const ReadingRecord& r) { return of_oxygen(r, [](const auto& o) { return o.dry.si(); }); }},
    Quantity{"u_oxygen", "/", Measurand::oxygen, false,
             [](const ReadingRecord& r) { return of_oxygen(r, [](const auto& o) { return o.u_dry; }); }},
    Quantity{"oxygen_wet", "/", Measurand::oxygen, false,
             [](const ReadingRecord& r) { return of_oxygen(r, [](const auto& o) { return o.wet.si(); }); }},
    Quantity{"u_oxygen_wet", "/", Measurand::oxygen, false,
             [](const ReadingRecord& r) { return of_oxygen(r, [](const auto& o) { return o.u_wet; }); }},
    Quantity{"po2", "Pa", Measurand::oxygen, false,
             [](const ReadingRecord& r) { return of_oxygen(r, [](const auto& o) { return o.po2.si(); }); }},
    Quantity{"u_po2", "Pa", Measurand::oxygen, false,
             [](const ReadingRecord& r) { return of_oxygen(r, [](const auto& o) { return o.u_po2_Pa; }); }},
    Quantity{"raw", "V", Measurand::oxygen, true, [](const ReadingRecord& r) { return r.raw_V; }},
    Quantity{"temperature", "Cel", Measurand::temperature, false,
             [](const ReadingRecord& r) { return in_celsius(r.temperature_K); }},
    Quantity{"u_temperature", "K", Measurand::temperature, false,
             [](const ReadingRecord& r) { return beside(r.temperature_K, r.u_temperature_K); }},
    Quantity{"humidity", "%RH", Measurand::humidity, false,
             [](const ReadingRecord& r) { return scaled(r.humidity, 100.0); }},
    Quantity{"u_humidity", "%RH", Measurand::humidity, false,
             [](const ReadingRecord& r) { return scaled(beside(r.humidity, r.u_humidity), 100.0); }},
    Quantity{"pressure", "Pa", Measurand::pressure, false, [](const ReadingRecord& r) { return r.pressure_Pa; }},
    Quantity{"u_pressure", "Pa", Measurand::pressure, false,
             [](const ReadingRecord& r) { return beside(r.pressure_Pa, r.u_pressure_Pa); }},
    Quantity{"co2", "/", Measurand::carbon_dioxide, false, [](const ReadingRecord& r) { return r.carbon_dioxide; }},
    Quantity{"u_co2", "/", Measurand::carbon_dioxide, false,
             [](const ReadingRecord& r) { return beside(r.carbon_dioxide, r.u_carbon_dioxide); }},
    Quantity{"over_pressure", "Pa", Measurand::over_pressure, false,
             [](const ReadingRecord& r) { return r.over_pressure_Pa; }},
    Quantity{"u_over_pressure", "Pa", Measurand::over_pressure, false,
             [](const ReadingRecord& r) { return beside(r.over_pressure_Pa, r.u_over_pressure_Pa); }},
};

constexpr std::string_view quality_name = "quality";

std::string below(const std::string& folder, std::string_view name) { return folder + "/" + std::string{name}; }

void add_sensor(const config::Sensor& sensor, std::vector<Definition>& to) {
  for (const auto& quantity : quantities)
    if (config::measures(sensor, quantity.measurand) && (!quantity.of_cell || sensor.cell))
      to.push_back({below(sensor.name, quantity.name), Datatype::float64, std::string{quantity.unit}});
  for (const auto& contact : config::contacts())
    if (config::measures(sensor, contact.measurand))
      to.push_back({below(sensor.name, name_of(contact.measurand)), Datatype::boolean, {}});
  to.push_back({below(sensor.name, quality_name), Datatype::text, {}});
}

/// A number that is there and finite; nothing else is legal as a value of a measurement.
Said measured(const Number& number, bool good) {
  if (!number || !std::isfinite(*number)) return {};
  return {*number, good, false};
}

Said word_of(std::string word) { return {std::move(word), true, true}; }

/// It is neither normal nor hidden.
bool stands(const AlarmStatus& alarm) {
  return alarms::urgency(alarm.state) < alarms::urgency(alarms::State::suppressed_by_design);
}

} // namespace

Plan plan_of(const config::Settings& settings) {
  Plan plan;
  for (const auto& room : settings.rooms) {
    RoomPlan one{room.name, {}};
    one.metrics = {{"state/monitored", Datatype::boolean, {}},
                   {"state/reason", Datatype::text, {}},
                   {"state/regime", Datatype::text, {}},
                   {"state/alarms_standing", Datatype::int32, {}}};
    if (config::channels(room, Measurand::oxygen) > 0) {
      one.metrics.push_back({"state/oxygen", Datatype::float64, "/"});
      one.metrics.push_back({"state/expanded_oxygen", Datatype::float64, "/"});
      one.metrics.push_back({"state/coverage_factor", Datatype::float64, {}});
    }
    if (config::channels(room, Measurand::carbon_dioxide) > 0)
      one.metrics.push_back({"state/co2", Datatype::float64, "/"});
    for (const auto& alarm : room.alarms) {
      one.metrics.push_back({"alarms/" + alarm.name + "/state", Datatype::text, {}});
      one.metrics.push_back({"alarms/" + alarm.name + "/priority", Datatype::text, {}});
      one.metrics.push_back({"alarms/" + alarm.name + "/test", Datatype::boolean, {}});
    }
    for (const auto& sensor : room.sensors) add_sensor(sensor, one.metrics);
    plan.push_back(std::move(one));
  }
  return plan;
}

std::vector<std::string> reading_names() {
  std::vector<std::string> names;
  for (const auto& quantity : quantities) names.emplace_back(quantity.name);
  for (const auto& contact : config::contacts()) names.emplace_back(name_of(contact.measurand));
  names.emplace_back(quality_name);
  return names;
}

void values_of(const ReadingRecord& reading, std::vector<Said>& out) {
  const auto quality = alarms::quality_of(reading.status);
  if (quality == alarms::Quality::bad) return values_lost(out);
  const bool good = quality == alarms::Quality::good;
  out.clear();
  for (const auto& quantity : quantities) out.push_back(measured(quantity.in(reading), good));
  for (const auto& contact : config::contacts()) {
    out.emplace_back();
    for (const auto& [measurand, is] : reading.contacts)
      if (measurand == contact.measurand) out.back() = {is, good, true};
  }
  out.push_back(word_of(std::string{name_of(quality)}));
}

void values_lost(std::vector<Said>& out) {
  out.assign(quantities.size() + config::contacts().size(), Said{});
  out.push_back(word_of(std::string{name_of(alarms::Quality::bad)}));
}

std::vector<Named> values_of(const AlarmStatus& alarm) {
  const auto folder = "alarms/" + alarm.alarm;
  return {{below(folder, "state"), word_of(std::string{name_of(alarm.state)})},
          {below(folder, "priority"), word_of(std::string{name_of(alarm.priority)})},
          {below(folder, "test"), {alarm.test, true, true}}};
}

std::vector<Named> values_of(const RoomStatus& room) {
  const auto standing = std::count_if(room.alarms.begin(), room.alarms.end(), stands);
  const auto level = [&room](const Number& number) { return measured(room.monitored ? number : std::nullopt, true); };
  std::vector<Named> values{{"state/monitored", {room.monitored, true, true}},
                            {"state/reason", word_of(room.reason)},
                            {"state/regime", word_of(std::string{name_of(room.regime.regime)})},
                            {"state/alarms_standing", {static_cast<std::int64_t>(standing), true, true}},
                            {"state/oxygen", level(room.oxygen)},
                            {"state/expanded_oxygen", level(room.expanded_oxygen)},
                            {"state/coverage_factor", measured(room.coverage_factor, true)},
                            {"state/co2", level(room.carbon_dioxide)}};
  for (const auto& alarm : room.alarms)
    for (auto& value : values_of(alarm)) values.push_back(std::move(value));
  return values;
}

} // namespace oxherd::daemon::sparkplug
