#include "compensation/outputs.hpp"

#include <cmath>

namespace oxherd::compensation {

void derive_outputs(OxygenReading& reading, double dry, const Contributions& spread, const OwnSpread<double>& own,
                    const Surroundings& at) {
  for (std::size_t i = 0; i < input_count; ++i) reading.budget[i] = std::fabs(spread[i]);
  const OutputsOf<double> found = outputs_of(dry, spread, own, at);
  reading.dry = DryFraction::from_si(found.dry);
  reading.wet = WetFraction::from_si(found.wet);
  reading.po2 = OxygenPartialPressure::from_si(found.po2_Pa);
  reading.molar = MolarConcentration::from_si(found.molar);
  reading.mass = MassConcentration::from_si(found.molar * oxygen_molar_mass);
  reading.sea_level_equivalent = found.po2_Pa / standard_atmosphere;
  reading.vapour = Pressure::from_si(at.vapour.e_Pa);
  reading.saturation = Pressure::from_si(at.vapour.saturation_Pa);
  reading.u_dry = found.u_dry;
  reading.u_wet = found.u_wet;
  reading.u_po2_Pa = found.u_po2_Pa;
  reading.u_molar = found.u_molar;
  reading.u_mass = found.u_molar * oxygen_molar_mass;
  reading.u_sea_level_equivalent = found.u_po2_Pa / standard_atmosphere;
}

} // namespace oxherd::compensation
