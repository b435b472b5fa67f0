#include "tests/simulation/drill/site_plan.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>
#include <utility>

#include <fmt/core.h>

#include "config/load.hpp"

namespace oxherd::drill {
namespace {

using compensation::CellModel;

TrueCell drawn_cell(Chance& chance) {
  TrueCell cell;
  cell.model = chance.of(std::array{CellModel::concentration, CellModel::partial_pressure, CellModel::mole_fraction});
  cell.zero_mV = std::round(chance.between(1.0, 6.0)) / 10.0;
  cell.in_air_mV = std::round(chance.between(95.0, 135.0)) / 10.0;
  // The settings state 0.02 mV for the signal and 0.05 mV for the zero, k = 1; the cell stays within 0.8 of the first.
  cell.error_mV = chance.between(-0.01, 0.01);
  cell.noise_mV = chance.between(0.001, 0.006);
  cell.zero_error_mV = chance.between(-0.04, 0.04);
  cell.lag_s = chance.between(2.0, 8.5);
  cell.loss_per_month = chance.between(0.0, 0.005);
  return cell;
}

RoomPlan drawn_room(Chance& chance, std::size_t number, bool slow) {
  using enum alarms::Scheme;
  RoomPlan room;
  room.name = fmt::format("room-{}", number);
  room.vote = chance.of(std::array{one_of_one, one_of_one, one_of_one, one_of_two, two_of_two, two_of_three});
  for (int i = 0; i < alarms::channels_of(room.vote); ++i) room.cells.push_back(drawn_cell(chance));
  room.probe = {chance.between(-0.3, 0.3), chance.between(-0.03, 0.03), chance.between(-50.0, 50.0)};
  room.air_changes_h = std::exp(chance.between(std::log(0.1), std::log(6.0)));
  // A slow site asks no more seldom than ten times while its air is changed once.
  const double sensible_s = std::clamp(360.0 / room.air_changes_h, 120.0, 600.0);
  const auto [least_s, most_s] = slow ? std::pair{60.0, sensible_s} : std::pair{1.0, 60.0};
  room.every_s = std::round(10.0 * std::exp(chance.between(std::log(least_s), std::log(most_s)))) / 10.0;
  room.probe_every_s = std::max(room.every_s, chance.of(std::array{10.0, 30.0, 60.0}));
  room.limit = chance.of(std::array{0.195, 0.195, 0.195, 0.198, 0.2});
  room.on_delay_s = chance.of(std::array{0.0, 3.0, 3.0, 5.0, 10.0});
  room.off_delay_s = chance.of(std::array{10.0, 10.0, 30.0, 60.0});
  room.temperature_C = chance.between(4.0, 28.0);
  room.swing_K = chance.between(0.2, 4.0);
  room.humidity = chance.between(0.25, 0.85);
  return room;
}

std::string_view word_for(CellModel model) {
  switch (model) {
  case CellModel::concentration: return "concentration";
  case CellModel::partial_pressure: return "partial-pressure";
  case CellModel::mole_fraction: return "mole-fraction";
  case CellModel::nernst: break;
  }
  throw std::logic_error("no such cell is drawn");
}

std::string sensor_text(const RoomPlan& room, std::size_t at) {
  const bool probe = at == room.probe_at();
  std::string text = fmt::format("[room.{}.sensor.{}]\nbus = \"{}-bus\"\nunit = {}\nevery = \"{} s\"\n", room.name,
                                 probe ? "air" : fmt::format("cell-{}", at), room.name, at + 1,
                                 probe ? room.probe_every_s : room.every_s);
  if (probe) return text + "measures = [\"temperature\", \"humidity\", \"pressure\"]\nprofile = \"ambient-int16\"\n\n";
  const auto& cell = room.cells[at];
  return text +
         fmt::format("measures = \"oxygen\"\nprofile = \"millivolts-float32\"\n"
                     "cell = {{ model = \"{}\", zero = \"{:.1f} mV\", serial = \"LK-{}-{}\" }}\n"
                     "calibration = {{ signal = \"{:.1f} mV\", temperature = \"{} °C\", humidity = \"{:.0f} %\", "
                     "pressure = \"{:.1f} kPa\", at = 2026-03-01T00:00:00Z }}\n\n",
                     word_for(cell.model), cell.zero_mV, room.name, at, cell.in_air_mV, calibrated_C,
                     100.0 * calibrated_humidity, calibrated_Pa / 1e3);
}

std::string room_text(const RoomPlan& room, std::size_t number) {
  std::string text =
      fmt::format("[bus.{0}-bus]\nkind = \"modbus-tcp\"\naddress = \"127.0.0.1:{1}\"\ntimeout = "
                  "\"500 ms\"\n\n[room.{0}]\n{3}oxygen_vote = \"{2}\"\nassumed_temperature = \"{4:.0f} °C\"\n\n",
                  room.name, 20000 + number, alarms::name_of(room.vote), gas_room_keys(room), room.temperature_C);
  for (std::size_t s = 0; s < room.sensors(); ++s) text += sensor_text(room, s);
  text += fmt::format("[room.{}.alarm.low-oxygen]\nquantity = \"oxygen\"\nbelow = \"{:.1f} %\"\n"
                      "on_delay = \"{} s\"\noff_delay = \"{} s\"\n\n",
                      room.name, 100.0 * room.limit, room.on_delay_s, room.off_delay_s);
  return text + gas_tables(room);
}

} // namespace

std::optional<std::size_t> RoomPlan::door_at() const {
  return gas.any() && gas.has_door_contact ? std::optional{sensors()} : std::nullopt;
}
std::optional<std::size_t> RoomPlan::people_at() const {
  return gas.any() && gas.has_people_contact ? std::optional{sensors() + (door_at() ? 1U : 0U)} : std::nullopt;
}
std::optional<std::size_t> RoomPlan::carbon_dioxide_at() const {
  if (gas.kind != Gas::carbon_dioxide) return std::nullopt;
  return sensors() + (door_at() ? 1U : 0U) + (people_at() ? 1U : 0U);
}

SitePlan drawn_site(Chance& chance, double gas_share) {
  SitePlan site;
  site.elevation_m = std::round(chance.between(-50.0, 1600.0));
  // Near enough to the standard atmosphere for a place's own mean.
  site.mean_pressure_Pa = 101325.0 * std::pow(1.0 - 2.25577e-5 * site.elevation_m, 5.25588);
  const bool slow = chance.in(0.7); // most of the years, for little
  const int rooms = chance.whole(1, 3);
  for (int r = 0; r < rooms; ++r) site.rooms.push_back(drawn_room(chance, static_cast<std::size_t>(r), slow));
  Chance apart = chance, of_gas{mixed(apart.bits())}; // sites without gas are as they would be without these draws
  if ((slow && gas_share < 1.0) || !of_gas.in(gas_share)) return site;
  for (std::size_t r = 0; r < site.rooms.size(); ++r)
    if (r == 0 || of_gas.in(0.5)) draw_gas(of_gas, site.rooms[r]);
  return site;
}

bool SitePlan::has_gas() const {
  return std::any_of(rooms.begin(), rooms.end(), [](const RoomPlan& room) { return room.gas.any(); });
}

double SitePlan::polls_a_day() const {
  double polls = 0.0;
  for (const auto& room : rooms)
    polls += 86400.0 * (static_cast<double>(room.cells.size()) / room.every_s + 1.0 / room.probe_every_s) +
             gas_polls_a_day(room.gas);
  return polls;
}

std::string settings_text(const SitePlan& site) {
  std::string text = fmt::format("[site]\nname = \"larkfield\"\nelevation = \"{} m\"\n\n"
                                 "[mqtt]\nbroker = \"mqtt://127.0.0.1:1883\"\n\n",
                                 site.elevation_m);
  for (std::size_t r = 0; r < site.rooms.size(); ++r) text += room_text(site.rooms[r], r);
  return text;
}

config::Settings settings_of(const SitePlan& site) {
  auto loaded = config::parse(settings_text(site), "drill.toml", {std::string{OXHERD_SOURCE_DIR} + "/config/profiles"},
                              config::Purpose::run);
  if (!loaded) {
    std::string all;
    for (const auto& problem : loaded.error()) all += config::to_string(problem) + "\n";
    throw std::runtime_error(all);
  }
  return std::move(loaded->settings);
}

} // namespace oxherd::drill
