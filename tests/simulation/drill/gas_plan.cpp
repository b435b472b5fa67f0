#include "tests/simulation/drill/gas_plan.hpp"

#include <cmath>

#include <fmt/core.h>

#include "tests/simulation/drill/site_plan.hpp"

namespace oxherd::drill {
namespace {

/// The output module's unit; sensors are numbered from one on.
constexpr int module_unit = 100;

std::string contact_text(const RoomPlan& room, const char* measurand, std::size_t at, double every_s,
                         const char* profile) {
  return fmt::format("[room.{0}.sensor.{1}]\nbus = \"{0}-bus\"\nunit = {2}\nevery = \"{3} s\"\nmeasures = \"{1}\"\n"
                     "profile = \"{4}\"\n\n",
                     room.name, measurand, at + 1, every_s, profile);
}

} // namespace

void draw_gas(Chance& chance, RoomPlan& room) {
  auto& gas = room.gas;
  gas.kind = chance.in(0.6) ? Gas::nitrogen : Gas::carbon_dioxide;
  const bool purged = gas.kind == Gas::nitrogen;
  gas.has_people_contact = chance.in(0.7);
  gas.has_door_contact = chance.in(0.6) || purged; // without it a purge never works
  gas.contact_every_s = chance.of(std::array{1.0, 1.0, 2.0});
  gas.carbon_dioxide_every_s = chance.of(std::array{1.0, 2.0, 5.0});
  gas.write_every_s = chance.of(std::array{1.0, 1.0, 2.0});
  const double stroke_s = chance.of(std::array{0.5, 1.0, 5.0});
  if (chance.in(0.6)) gas.stroke_s = stroke_s;
  gas.supply_changes_h = std::round(10.0 * chance.between(1.0, 4.0)) / 10.0;
  gas.set_point = purged ? std::round(chance.between(3.0, 10.0)) / 100.0 : chance.of(std::array{800e-6, 1000e-6});
  gas.carbon_dioxide_per_s = chance.between(5e-6, 30e-6);
  room.every_s = std::round(chance.between(1.0, 10.0));
  room.probe_every_s = std::max(room.every_s, 10.0);
  // A room that is purged is tight; with more air coming in oxygen does not fall as it should, which is told.
  if (purged) room.air_changes_h = std::exp(chance.between(std::log(0.003), std::log(0.1)));
}

std::string valve_name(const RoomPlan& room) { return room.name + "-gas"; }

std::string gas_room_keys(const RoomPlan& room) {
  if (room.gas.kind != Gas::nitrogen) return "regime = \"occupied\"\n";
  return fmt::format("regime = \"sealed-low-oxygen\"\nvolume = \"{} m3\"\n", volume_m3);
}

std::string gas_tables(const RoomPlan& room) {
  const auto& gas = room.gas;
  if (!gas.any()) return {};
  std::string text;
  if (const auto at = room.door_at()) text += contact_text(room, "door", *at, gas.contact_every_s, "door-contact");
  if (const auto at = room.people_at())
    text += contact_text(room, "occupancy", *at, gas.contact_every_s, "occupancy-contact");
  if (const auto at = room.carbon_dioxide_at())
    text += contact_text(room, "carbon-dioxide", *at, gas.carbon_dioxide_every_s, "co2-uint16");
  const bool purged = gas.kind == Gas::nitrogen;
  text += fmt::format("[room.{}.loop.gas]\nholds = \"{}\"\noutput = \"{}\"\nset_point = \"{}\"\n\n", room.name,
                      purged ? "oxygen" : "carbon-dioxide", valve_name(room),
                      purged ? fmt::format("{:.0f} %", 100.0 * gas.set_point)
                             : fmt::format("{:.0f} ppm", 1e6 * gas.set_point));
  text += fmt::format("[output.{}]\nkind = \"actuator\"\nroom = \"{}\"\nduty = \"{}\"\nbus = \"{}-bus\"\nunit = {}\n"
                      "coil = 0\nevery = \"{} s\"\n",
                      valve_name(room), room.name, purged ? "nitrogen-purge" : "carbon-dioxide-dosing", room.name,
                      module_unit, gas.write_every_s);
  if (purged)
    text += fmt::format("flow = \"{:.0f} m3/h\"\ngas_oxygen = \"{:.1f} %\"\n", gas.supply_changes_h * volume_m3,
                        100.0 * supplied_oxygen);
  else
    text += fmt::format("ceiling = \"{:.0f} ppm\"\n", 1e6 * carbon_dioxide_ceiling);
  if (gas.stroke_s)
    text +=
        fmt::format("feedback = {{ unit = {}, discrete_input = 0, stroke = \"{} s\" }}\n", module_unit, *gas.stroke_s);
  return text + "\n";
}

double gas_polls_a_day(const GasPlan& gas) {
  if (!gas.any()) return 0.0;
  const double contacts = (gas.has_door_contact ? 1.0 : 0.0) + (gas.has_people_contact ? 1.0 : 0.0);
  const double probe = gas.kind == Gas::carbon_dioxide ? 1.0 / gas.carbon_dioxide_every_s : 0.0;
  return 86400.0 * (1.0 + contacts / gas.contact_every_s + probe);
}

} // namespace oxherd::drill
