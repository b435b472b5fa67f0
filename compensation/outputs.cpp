#include "compensation/outputs.hpp"

#include <cmath>

#include "compensation/constants.hpp"

namespace oxherd::compensation {

OwnSpread own_spread(const GasConditions& gas, const Surroundings& at) {
  const Vapour& v = at.vapour;
  const double by_probe_Pa = -v.d_probe * at.probe.u_si;
  const double by_humidity_Pa = -v.d_humidity * gas.humidity.u_si;
  const double by_thermometer_Pa = gas.humidity_temperature ? 0.0 : by_probe_Pa;
  const double by_own_probe_Pa = gas.humidity_temperature ? by_probe_Pa : 0.0;
  const double u_p_Pa = gas.pressure.u_si;
  return {.dry_Pa = {by_thermometer_Pa, by_humidity_Pa, by_own_probe_Pa, (1.0 - v.d_pressure) * u_p_Pa},
          .dry_part = {by_thermometer_Pa / at.p_Pa, by_humidity_Pa / at.p_Pa, by_own_probe_Pa / at.p_Pa,
                       (v.e_Pa / at.p_Pa - v.d_pressure) / at.p_Pa * u_p_Pa},
          .t_K = {gas.temperature.u_si, 0.0, 0.0, 0.0}};
}

void derive_outputs(OxygenReading& reading, double dry, const Contributions& spread, const OwnSpread& own,
                    const Surroundings& at) {
  const double dry_Pa = at.p_Pa - at.vapour.e_Pa;
  const double part = cells::dry_part(at);
  const double po2_Pa = dry * dry_Pa;
  const double per_molar = 1.0 / (gas_constant * at.t_K);
  const double molar = po2_Pa * per_molar;
  double others = 0.0; // squares of all inputs that reach the other outputs through the dry fraction only
  for (std::size_t i = 0; i < input_count; ++i) {
    reading.budget[i] = std::fabs(spread[i]);
    if (i < own_first || i >= own_first + own_count) others += spread[i] * spread[i];
  }
  double dry2 = others;
  double wet2 = part * part * others;
  double po2_2 = dry_Pa * dry_Pa * others;
  double molar2 = per_molar * per_molar * po2_2;
  for (std::size_t i = 0; i < own_count; ++i) {
    const double c = spread[own_first + i];
    const double by_wet = part * c + dry * own.dry_part[i];
    const double by_po2 = dry_Pa * c + dry * own.dry_Pa[i];
    const double by_molar = by_po2 * per_molar - molar / at.t_K * own.t_K[i];
    dry2 += c * c;
    wet2 += by_wet * by_wet;
    po2_2 += by_po2 * by_po2;
    molar2 += by_molar * by_molar;
  }
  reading.dry = DryFraction::from_si(dry);
  reading.wet = WetFraction::from_si(dry * part);
  reading.po2 = OxygenPartialPressure::from_si(po2_Pa);
  reading.molar = MolarConcentration::from_si(molar);
  reading.mass = MassConcentration::from_si(molar * oxygen_molar_mass);
  reading.sea_level_equivalent = po2_Pa / standard_atmosphere;
  reading.vapour = Pressure::from_si(at.vapour.e_Pa);
  reading.saturation = Pressure::from_si(at.vapour.saturation_Pa);
  reading.u_dry = std::sqrt(dry2);
  reading.u_wet = std::sqrt(wet2);
  reading.u_po2_Pa = std::sqrt(po2_2);
  reading.u_molar = std::sqrt(molar2);
  reading.u_mass = reading.u_molar * oxygen_molar_mass;
  reading.u_sea_level_equivalent = reading.u_po2_Pa / standard_atmosphere;
}

} // namespace oxherd::compensation
