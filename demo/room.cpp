#include "demo/room.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "compensation/moist_air.hpp"

namespace oxherd::demo {
namespace {

constexpr double door_air_changes_per_h = 12.0; // an open door of a small room, common practice
constexpr double temperature_time_constant_s = 600.0;
constexpr double heat_share_of_air = 0.05; // walls and stock hold the rest of a room's heat
constexpr double generator_m3_per_h = 40.0;
constexpr double airing_m3_per_h = 5.0;
// One person at light work: 0.5 L of oxygen a minute, 0.85 of it comes back as carbon dioxide (common practice).
constexpr double person_oxygen_mol_per_s = 3.5e-4;
constexpr double respiratory_quotient = 0.85;
constexpr double half_uptake = 200e-6; // carbon dioxide at which plants take up half of what they could
constexpr double dark_respiration = 0.1;

/// Vapour pressure of saturated air as a fraction of the total.
double saturated_fraction(double t_K, Pressure p) {
  const auto vapour = compensation::vapour_pressure(percent_humidity(100.0), kelvins(t_K), p);
  if (!vapour) throw std::logic_error("simulated temperature is outside the equations of moist air");
  return vapour->si() / p.si();
}

Supply outdoors_of(const Weather& weather) {
  return {outdoor_oxygen, outdoor_carbon_dioxide,
          weather.humidity().si() * saturated_fraction(weather.temperature().si(), weather.pressure())};
}

} // namespace

Room::Room(const RoomFacts& facts, const Weather& weather)
    : facts_{&facts}, pressure_{weather.pressure()}, t_K_{facts.temperature_C + 273.15},
      vapour_fraction_{facts.humidity_percent / 100.0 * saturated_fraction(t_K_, pressure_)} {
  controls.air_changes_per_h = facts.air_changes_per_h;
  controls.temperature_C = facts.temperature_C;
  controls.humidity_percent = facts.humidity_percent;
  gas_ = fill(facts.volume_m3, {pressure_, kelvins(t_K_), vapour_fraction_},
              {facts.oxygen_start, facts.carbon_dioxide_start, vapour_fraction_});
}

void Room::choose_valves(double now_s) {
  const double ppm = gas_.carbon_dioxide() * 1e6;
  if (ppm < facts_->dosing_to_ppm - 50.0) dosing_ = true;
  if (ppm > facts_->dosing_to_ppm || light(now_s) == 0.0) dosing_ = false;
  if (facts_->oxygen_hold <= 0.0) return;
  constexpr double band = 0.001;
  const double off = gas_.oxygen() - facts_->oxygen_hold;
  if (off > band) purging_ = true;
  if (off <= 0.0) purging_ = false;
  if (off < -band) airing_ = true;
  if (off >= 0.0) airing_ = false;
}

Flows Room::flows(double now_s) {
  choose_valves(now_s);
  const double changes = controls.air_changes_per_h + (controls.door_open ? door_air_changes_per_h : 0.0);
  const double breathed = controls.people * person_oxygen_mol_per_s;
  const double now_co2 = gas_.carbon_dioxide();
  const double uptake = light(now_s) * now_co2 / (now_co2 + half_uptake) - (1.0 - light(now_s)) * dark_respiration;
  const double plants = facts_->plants_mol_per_s * uptake;
  Flows all;
  all.fresh_air_m3_per_h = changes * facts_->volume_m3 + (airing_ ? airing_m3_per_h : 0.0);
  all.nitrogen_m3_per_h = controls.leak_m3_per_h;
  all.purge_m3_per_h = controls.purge_m3_per_h + (purging_ ? generator_m3_per_h : 0.0);
  all.carbon_dioxide_m3_per_h = controls.dosing_m3_per_h + (dosing_ ? facts_->dosing_m3_per_h : 0.0);
  all.scrubber_m3_per_h = facts_->scrubber_m3_per_h;
  all.oxygen_used_mol_per_s = breathed + facts_->fruit_mol_per_s - plants;
  all.carbon_dioxide_made_mol_per_s = respiratory_quotient * breathed + facts_->fruit_mol_per_s - plants;
  return all;
}

void Room::advance(const Weather& weather, double now_s, double dt_s) {
  const Flows all = flows(now_s);
  const Supply outdoors = outdoors_of(weather);
  pressure_ = weather.pressure();

  const double set_K = controls.temperature_C + 273.15 - (light(now_s) > 0.0 ? 0.0 : facts_->night_drop_K);
  const double exchange = heat_share_of_air * all.fresh_air_m3_per_h / facts_->volume_m3 / 3600.0;
  const double hold = 1.0 / temperature_time_constant_s;
  const double aim_K = (hold * set_K + exchange * weather.temperature().si()) / (hold + exchange);
  t_K_ = aim_K + (t_K_ - aim_K) * std::exp(-(hold + exchange) * dt_s);

  const double saturated = saturated_fraction(t_K_, pressure_);
  const double vapour = step_vapour(vapour_fraction_, facts_->volume_m3, all, outdoors,
                                    {.fraction = controls.humidity_percent / 100.0 * saturated}, dt_s);
  vapour_fraction_ = std::min(vapour, saturated); // the rest runs down the walls
  gas_ = step_gas(gas_, facts_->volume_m3, {pressure_, kelvins(t_K_), vapour_fraction_}, all, outdoors, dt_s);
}

TrueAir Room::air() const {
  const double saturated = saturated_fraction(t_K_, pressure_);
  return {DryFraction::from_si(gas_.oxygen()),
          DryFraction::from_si(gas_.carbon_dioxide()),
          kelvins(t_K_),
          RelativeHumidity::from_si(std::min(1.0, vapour_fraction_ / saturated)),
          pressure_,
          vapour_fraction_};
}

} // namespace oxherd::demo
