#pragma once

#include <bit>
#include <cstdint>
#include <vector>

#include "compensation/oxygen_reading.hpp"

namespace oxherd::compensation::same_reading {

/// Every number of a reading, in one fixed order.
inline std::vector<double> numbers_of(const OxygenReading& r) {
  std::vector<double> all{r.dry.si(),
                          r.wet.si(),
                          r.po2.si(),
                          r.molar.si(),
                          r.mass.si(),
                          r.sea_level_equivalent,
                          r.uncorrected,
                          r.factors.temperature,
                          r.factors.pressure,
                          r.factors.humidity,
                          r.vapour.si(),
                          r.vapour_at_calibration.si(),
                          r.saturation.si(),
                          r.u_dry,
                          r.u_wet,
                          r.u_po2_Pa,
                          r.u_molar,
                          r.u_mass,
                          r.u_sea_level_equivalent};
  all.insert(all.end(), r.budget.begin(), r.budget.end());
  return all;
}

/// The same, bit for bit: -0 is not 0.
inline std::vector<std::uint64_t> bits_of(const OxygenReading& reading) {
  std::vector<std::uint64_t> all;
  for (const double value : numbers_of(reading)) all.push_back(std::bit_cast<std::uint64_t>(value));
  return all;
}

} // namespace oxherd::compensation::same_reading
