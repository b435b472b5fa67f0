#include "demo/gas_balance.hpp"

#include <algorithm>

#include "demo/first_order.hpp"

namespace oxherd::demo {
namespace {

constexpr double gas_constant = 8.314462618; // J/(mol K), CODATA 2018
constexpr double seconds_per_hour = 3600.0;

double moles_per_m3(const Conditions& conditions) {
  return conditions.pressure.si() / (gas_constant * conditions.temperature.si());
}

} // namespace

DryGas fill(double volume_m3, const Conditions& conditions, const Supply& with) {
  const double dry = moles_per_m3(conditions) * volume_m3 * (1.0 - conditions.vapour_fraction);
  return {dry * with.oxygen, dry * with.carbon_dioxide, dry * (1.0 - with.oxygen - with.carbon_dioxide)};
}

DryGas step_gas(const DryGas& before, double volume_m3, const Conditions& after, const Flows& flows,
                const Supply& outdoors, double dt_s) {
  const double per_s = moles_per_m3(after) / seconds_per_hour; // m3/h at room conditions to mol/s
  const double outdoor_dry = 1.0 - outdoors.vapour_fraction;
  double fresh = flows.fresh_air_m3_per_h * per_s * outdoor_dry;
  const double nitrogen = flows.nitrogen_m3_per_h * per_s;
  const double purge = flows.purge_m3_per_h * per_s;
  const double dosed = flows.carbon_dioxide_m3_per_h * per_s;
  const double dry_part = 1.0 - after.vapour_fraction;
  const double scrubbed = flows.scrubber_m3_per_h * per_s * dry_part * before.carbon_dioxide();
  const double reacted = flows.carbon_dioxide_made_mol_per_s - flows.oxygen_used_mol_per_s;

  const double target = moles_per_m3(after) * volume_m3 * dry_part;
  const double growth = (target - before.total_mol()) / dt_s;
  double out = fresh + nitrogen + purge + dosed - scrubbed + reacted - growth;
  if (out < 0.0) { // the room breathes in
    fresh -= out;
    out = 0.0;
  }
  const double oxygen_in = fresh * outdoors.oxygen + purge * flows.purge_oxygen - flows.oxygen_used_mol_per_s;
  const double carbon_dioxide_in =
      fresh * outdoors.carbon_dioxide + dosed - scrubbed + flows.carbon_dioxide_made_mol_per_s;
  const double rest_in =
      fresh * (1.0 - outdoors.oxygen - outdoors.carbon_dioxide) + nitrogen + purge * (1.0 - flows.purge_oxygen);
  const double rate = out / target;
  DryGas now{after_constant(before.oxygen_mol, oxygen_in, rate, dt_s),
             after_constant(before.carbon_dioxide_mol, carbon_dioxide_in, rate, dt_s),
             after_constant(before.rest_mol, rest_in, rate, dt_s)};
  // The outflow was taken as constant while the amount moved by `growth`; the mixture is right, its amount off by the
  // square of a small number. The ideal gas law has the last word.
  const double correction = target / now.total_mol();
  now.oxygen_mol = std::max(0.0, now.oxygen_mol * correction);
  now.carbon_dioxide_mol = std::max(0.0, now.carbon_dioxide_mol * correction);
  now.rest_mol *= correction;
  return now;
}

double step_vapour(double before, double volume_m3, const Flows& flows, const Supply& outdoors, const VapourHold& held,
                   double dt_s) {
  const double fresh = flows.fresh_air_m3_per_h / volume_m3 / seconds_per_hour;
  const double dry =
      (flows.nitrogen_m3_per_h + flows.purge_m3_per_h + flows.carbon_dioxide_m3_per_h) / volume_m3 / seconds_per_hour;
  const double hold = 1.0 / held.time_constant_s;
  return after_constant(before, fresh * outdoors.vapour_fraction + hold * held.fraction, fresh + dry + hold, dt_s);
}

} // namespace oxherd::demo
