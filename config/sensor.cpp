#include <algorithm>
#include <array>

#include <fmt/core.h>

#include "config/measurands.hpp"
#include "config/nearest.hpp"
#include "config/rules.hpp"
#include "config/sections.hpp"

namespace oxherd::config {
namespace {

using compensation::Dimension;

constexpr std::array<Choice<bool>, 2> bases{{{"dry", true}, {"wet", false}}};

std::vector<Measurand> read_measures(TableReader& in) {
  in.require("measures", "\"oxygen\"");
  std::vector<Measurand> measures;
  for (const auto& word : in.texts("measures")) {
    const auto measurand = measurand_named(word);
    if (!measurand) {
      in.error("measures",
               fmt::format("\"{}\" is no measurand; there is {}", word, listed_nearest_first(word, measurand_names())));
    } else if (std::find(measures.begin(), measures.end(), *measurand) != measures.end()) {
      in.error("measures", fmt::format("\"{}\" is named twice", word));
    } else
      measures.push_back(*measurand);
  }
  const Node* node = in.node("measures");
  const auto* items = node != nullptr ? std::get_if<Array>(&node->value) : nullptr;
  if (items != nullptr && items->empty()) in.error("measures", "names nothing; write for example \"oxygen\"");
  return measures;
}

const Profile* find_profile(TableReader& in, ProfileShelf& shelf) {
  in.require("profile", "\"millivolts-float32\"");
  const auto name = in.text("profile");
  if (!name) return nullptr;
  if (const Profile* profile = shelf.find(*name)) return profile;
  if (shelf.exists(*name)) {
    in.error("profile", fmt::format("profile \"{}\" has errors of its own, listed with its file", *name));
    return nullptr;
  }
  const auto names = shelf.names();
  in.error("profile",
           names.empty()
               ? fmt::format("there is no profile \"{}\", nor any other, in the profile directories", *name)
               : fmt::format("there is no profile \"{}\"; there is {}", *name, listed_nearest_first(*name, names)));
  return nullptr;
}

/// The points that `measures` asks for. Without a profile they stand empty, so that votes and references can still be
/// checked.
void take_points(TableReader& in, const std::vector<Measurand>& measures, const Profile* profile, Sensor& sensor,
                 std::optional<Dimension>& oxygen) {
  for (const auto measurand : measures) {
    if (profile == nullptr) {
      sensor.points.push_back({measurand, 0.0});
      continue;
    }
    const auto has = [measurand](const ProfilePoint& p) { return p.measured.measurand == measurand; };
    const auto found = std::find_if(profile->points.begin(), profile->points.end(), has);
    if (found == profile->points.end()) {
      std::vector<std::string> delivered;
      for (const auto& point : profile->points) delivered.emplace_back(name_of(point.measured.measurand));
      in.error("measures", fmt::format("profile \"{}\" does not deliver \"{}\"; it delivers {}", profile->name,
                                       name_of(measurand), listed(delivered)));
      continue;
    }
    sensor.map.points.push_back(found->point);
    sensor.points.push_back(found->measured);
    if (measurand == Measurand::oxygen) oxygen = found->dimension;
  }
  if (profile == nullptr) return;
  sensor.map.status = profile->status;
  sensor.status = profile->meanings;
}

/// `u = { temperature = "0.5 K" }`: what this one device is worth, over what its profile says.
void read_uncertainties(TableReader& in, std::optional<Dimension> oxygen, Sensor& sensor) {
  auto u = in.table("u");
  if (!u) return;
  for (auto& point : sensor.points) {
    Dimension dimension = Dimension::voltage;
    for (const auto& delivery : deliveries())
      if (delivery.measurand == point.measurand) dimension = delivery.dimension;
    if (point.measurand == Measurand::oxygen) dimension = oxygen.value_or(Dimension::voltage);
    const QuantityRule rule{difference_of(dimension), 0.0, 1e6, "what an uncertainty can be (0 or more)"};
    if (const auto given = u->quantity(name_of(point.measurand), rule)) point.u_si = *given;
  }
  u->finish();
}

/// The table under `key`, which may also be written [room.R.sensor.S.calibration].
void read_oxygen_parts(TableReader& in, const Surroundings& around, std::optional<Dimension> oxygen, Sensor& sensor) {
  auto cell = in.table("cell");
  auto calibration = in.table("calibration");
  if (cell) sensor.cell = read_cell(*cell, around.site, around.regime);
  if (calibration)
    sensor.calibration = read_calibration(*calibration, around.site, sensor.cell.value_or(CellSettings{}));
  const auto reports_dry = in.choice("reports", bases);
  sensor.reports_dry = reports_dry.value_or(false);
  if (!oxygen) return; // nothing known about what it delivers
  if (*oxygen == Dimension::voltage) {
    if (!cell && !in.has("cell"))
      in.error("cell", "missing; a signal in millivolts says nothing without its cell, for example cell = { model = "
                       "\"concentration\", zero = \"0.4 mV\" }");
    if (cell && !in.has("calibration"))
      in.warning("calibration", "none in this file; the sensor counts only once a calibration is in the store");
    if (in.has("reports")) in.error("reports", "belongs to a transmitter; a cell's basis follows from its model");
    return;
  }
  for (const std::string_view key : {"cell", "calibration"})
    if (in.has(key)) in.error(key, "belongs to a sensor that gives a signal; this profile delivers a fraction");
  if (!in.has("reports"))
    in.warning("reports", "not given; the fraction is taken as \"wet\" (of the gas as it is). Write \"dry\" if the "
                          "transmitter dries its sample or converts");
}

/// `stuck_after`: a duration, or the word "never".
void read_stuck_after(TableReader& in, Sensor& sensor) {
  constexpr QuantityRule span{Dimension::duration, 60.0, 7 * 86400.0, "1 min to 7 d, or \"never\""};
  const Node* node = in.node("stuck_after");
  if (node == nullptr) return;
  const auto* text = std::get_if<std::string>(&node->value);
  sensor.stuck_after.never = text != nullptr && *text == "never";
  if (!sensor.stuck_after.never) sensor.stuck_after.stated = in.duration("stuck_after", span);
}

void read_ndir(TableReader& in, Sensor& sensor) {
  auto ndir = in.table("ndir");
  if (!ndir) return;
  compensation::NdirReference reference;
  if (const auto p = ndir->quantity("pressure", station_air_pressure)) reference.pressure = pascals(*p);
  if (const auto t = ndir->quantity("temperature", gas_temperature)) reference.temperature = kelvins(*t);
  ndir->finish();
  sensor.ndir = reference;
}

bool measures_one(const Sensor& sensor, Measurand measurand) {
  return std::any_of(sensor.points.begin(), sensor.points.end(),
                     [measurand](const MeasuredPoint& p) { return p.measurand == measurand; });
}

} // namespace

Sensor read_sensor(const std::string& name, TableReader in, const Surroundings& around) {
  Sensor sensor;
  sensor.name = name;
  const auto measures = read_measures(in);
  const Bus* bus = find_bus(in, "bus", around.buses);
  if (bus != nullptr) {
    sensor.bus = bus->name;
    sensor.timeout = bus->timeout;
    sensor.retries = bus->retries;
    sensor.limits = bus->limits;
  }
  sensor.unit = read_unit(in, bus);
  const Profile* profile = find_profile(in, around.profiles);
  if (profile != nullptr) {
    sensor.profile = profile->name;
    sensor.limits.gap_max = profile->gap_max.value_or(sensor.limits.gap_max);
    sensor.limits.length_max = profile->length_max.value_or(sensor.limits.length_max);
  }
  std::optional<Dimension> oxygen; // of the oxygen point: a signal or a fraction
  take_points(in, measures, profile, sensor, oxygen);

  sensor.every = in.duration("every", poll_period).value_or(sensor.every);
  sensor.timeout = in.duration("timeout", reply_timeout).value_or(sensor.timeout);
  sensor.retries = in.integer("retries", retry_count).value_or(sensor.retries);
  read_limits(in, sensor.limits);
  if (sensor.timeout > sensor.every)
    in.warning(in.has("timeout") ? "timeout" : "every", "the timeout is longer than the poll period: while the device "
                                                        "is silent, polls are skipped");
  read_uncertainties(in, oxygen, sensor);
  read_oxygen_parts(in, around, oxygen, sensor);
  read_ndir(in, sensor);
  read_stuck_after(in, sensor);
  const bool nothing_known = measures.empty();
  if (!nothing_known && !measures_one(sensor, Measurand::oxygen))
    for (const std::string_view key : {"cell", "calibration", "reports"})
      if (in.has(key)) in.error(key, "belongs to a sensor that measures \"oxygen\"");
  if (!nothing_known && in.has("ndir") && !measures_one(sensor, Measurand::carbon_dioxide))
    in.error("ndir", "belongs to a sensor that measures \"carbon-dioxide\"");
  in.finish();
  return sensor;
}

} // namespace oxherd::config
