#include "demo/room.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "compensation/moist_air.hpp"
#include "demo/room_pressure.hpp"

namespace oxherd::demo {
namespace {

constexpr double door_air_changes_per_h = 12.0; // an open door of a small room, common practice
constexpr double temperature_time_constant_s = 600.0;
constexpr double heat_share_of_air = 0.05; // walls and stock hold the rest of a room's heat
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

/// What something gives while it is on.
double if_on(bool on, double what) { return on ? what : 0.0; }

double heat_dead_time_s(const PlantFacts& plant) { return plant.heat ? plant.heat->dead_time_s : 0.0; }
double water_dead_time_s(const PlantFacts& plant) { return plant.water ? plant.water->dead_time_s : 0.0; }

} // namespace

Room::Room(const RoomFacts& facts, const Weather& weather)
    : facts_{&facts}, pressure_{weather.pressure()}, t_K_{facts.temperature_C + 273.15},
      vapour_fraction_{facts.humidity_percent / 100.0 * saturated_fraction(t_K_, pressure_)},
      heat_on_its_way_{heat_dead_time_s(facts.plant)}, water_on_its_way_{water_dead_time_s(facts.plant)},
      dosing_on_its_way_{facts.plant.dosing_dead_time_s}, fan_proof_{facts.plant.fan_proof_s, 1.0} {
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

Room::Openings Room::own_openings(double now_s) {
  choose_valves(now_s);
  return {controls.air_changes_per_h, airing_ ? airing_m3_per_h : 0.0, purging_ ? facts_->plant.purge_m3_per_h : 0.0,
          dosing_ ? facts_->dosing_m3_per_h : 0.0, facts_->scrubber_m3_per_h};
}

Room::Openings Room::driven_openings(double now_s) {
  const PlantFacts& can = facts_->plant;
  const double own_changes = plant_->extract_fan ? controls.air_changes_per_h
                                                 : std::min(controls.air_changes_per_h, can.fan_off_changes_per_h);
  air_circulates_ = fan_proof_.after(if_on(plant_->circulation_fan, 1.0), now_s) > 0.0;
  return {own_changes + if_on(plant_->vents_open, can.vents_changes_per_h),
          if_on(plant_->fresh_air_open, can.fresh_air_m3_per_h), if_on(plant_->purge_open, can.purge_m3_per_h),
          dosing_on_its_way_.after(if_on(plant_->carbon_dioxide_open, can.dosing_m3_per_h), now_s),
          if_on(plant_->scrubber, can.scrubber_m3_per_h)};
}

Flows Room::flows(double now_s) {
  const Openings open = plant_ ? driven_openings(now_s) : own_openings(now_s);
  const double changes = open.air_changes_per_h + (controls.door_open ? door_air_changes_per_h : 0.0);
  const double breathed = controls.people * person_oxygen_mol_per_s;
  const double now_co2 = gas_.carbon_dioxide();
  const double uptake = light(now_s) * now_co2 / (now_co2 + half_uptake) - (1.0 - light(now_s)) * dark_respiration;
  const double plants = facts_->plants_mol_per_s * uptake;
  Flows all;
  all.fresh_air_m3_per_h = changes * facts_->volume_m3 + open.fresh_air_m3_per_h;
  all.nitrogen_m3_per_h = controls.leak_m3_per_h;
  all.purge_m3_per_h = controls.purge_m3_per_h + open.purge_m3_per_h;
  all.carbon_dioxide_m3_per_h = controls.dosing_m3_per_h + open.dosing_m3_per_h;
  all.scrubber_m3_per_h = open.scrubber_m3_per_h;
  all.oxygen_used_mol_per_s = breathed + facts_->fruit_mol_per_s - plants;
  all.carbon_dioxide_made_mol_per_s = respiratory_quotient * breathed + facts_->fruit_mol_per_s - plants;
  return all;
}

Room::HeatHold Room::heat_hold(double now_s) {
  if (!plant_ || !facts_->plant.heat)
    return {controls.temperature_C + 273.15 - (light(now_s) > 0.0 ? 0.0 : facts_->night_drop_K),
            temperature_time_constant_s};
  const HeatFacts& heat = *facts_->plant.heat;
  const double driven_K = if_on(plant_->heater, heat.heater_K) + plant_->heater_valve * heat.heater_valve_K -
                          if_on(plant_->chiller, heat.chiller_K);
  // What people and stock give off is small beside these.
  return {heat.still_C + 273.15 + light(now_s) * heat.lights_K + heat_on_its_way_.after(driven_K, now_s),
          heat.time_constant_s};
}

VapourHold Room::vapour_hold(double saturated, double now_s) {
  if (!plant_ || !facts_->plant.water) return {.fraction = controls.humidity_percent / 100.0 * saturated};
  const WaterFacts& water = *facts_->plant.water;
  const double driven = if_on(plant_->humidifier, water.humidifier) - if_on(plant_->chiller, water.chiller);
  return {.fraction = water.still + light(now_s) * water.plants + water_on_its_way_.after(driven, now_s),
          .time_constant_s = water.time_constant_s};
}

void Room::step_pressure(const Flows& all, Pressure outdoors_before, Temperature before, double dt_s) {
  if (!facts_->relief) return;
  const bool fresh_air_open = plant_ ? plant_->fresh_air_open : airing_;
  if (controls.door_open || fresh_air_open) {
    over_pressure_Pa_ = 0.0;
    return;
  }
  const double scrubbed = all.scrubber_m3_per_h * gas_.carbon_dioxide() * (1.0 - vapour_fraction_);
  over_pressure_Pa_ = step_over_pressure(
      over_pressure_Pa_,
      {.volume_m3 = facts_->volume_m3,
       .conductance_m3_per_h_per_Pa = facts_->relief->leak_m3_per_h_per_Pa +
                                      if_on(!controls.relief_isolated, facts_->relief->relief_m3_per_h_per_Pa),
       .inflow_m3_per_h = all.nitrogen_m3_per_h + all.purge_m3_per_h + all.carbon_dioxide_m3_per_h - scrubbed,
       .outdoors_before = outdoors_before,
       .outdoors_after = pressure_,
       .before = before,
       .after = kelvins(t_K_)},
      dt_s);
}

void Room::advance(const Weather& weather, double now_s, double dt_s) {
  const Flows all = flows(now_s);
  const Supply outdoors = outdoors_of(weather);
  const Pressure outdoors_before = pressure_;
  const Temperature before = kelvins(t_K_);
  pressure_ = weather.pressure();

  const HeatHold heat = heat_hold(now_s);
  const double exchange = heat_share_of_air * all.fresh_air_m3_per_h / facts_->volume_m3 / 3600.0;
  const double hold = 1.0 / heat.time_constant_s;
  const double aim_K = (hold * heat.aim_K + exchange * weather.temperature().si()) / (hold + exchange);
  t_K_ = aim_K + (t_K_ - aim_K) * std::exp(-(hold + exchange) * dt_s);

  const double saturated = saturated_fraction(t_K_, pressure_);
  const double vapour =
      step_vapour(vapour_fraction_, facts_->volume_m3, all, outdoors, vapour_hold(saturated, now_s), dt_s);
  vapour_fraction_ = std::min(vapour, saturated); // the rest runs down the walls
  gas_ = step_gas(gas_, facts_->volume_m3, {pressure_, kelvins(t_K_), vapour_fraction_}, all, outdoors, dt_s);
  step_pressure(all, outdoors_before, before, dt_s);
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
