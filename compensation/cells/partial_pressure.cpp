#include "compensation/cells/partial_pressure.hpp"

namespace oxherd::compensation::cells {

namespace {

template <class Real> Gain<Real> partial_pressure_gain(const SurroundingsOf<Real>& at) {
  const Real dry_Pa = at.p_Pa - at.vapour.e_Pa;
  return {.value = at.response * dry_Pa, .d_t = at.response_slope * dry_Pa, .d_p = at.response, .d_e = -at.response};
}

Stimulus partial_pressure_stimulus(double fraction, const Surroundings& at) {
  return linear_stimulus(fraction, partial_pressure_gain(at));
}

double partial_pressure_fraction(double stimulus, const Surroundings& at) {
  return linear_fraction(stimulus, partial_pressure_gain(at));
}

void partial_pressure_fractions(BlockColumn& values, const GasBlock& at) {
  for (std::size_t i = 0; i < block_rows; ++i) values[i] /= at.response[i] * (at.p_Pa[i] - at.e_Pa[i]);
}

Factors partial_pressure_factors(const Surroundings& at, const Surroundings& calibrated) {
  return {.temperature = calibrated.response / at.response,
          .pressure = calibrated.p_Pa / at.p_Pa,
          .humidity = dry_part(calibrated) / dry_part(at)};
}

} // namespace

constinit const Law partial_pressure{.model = CellModel::partial_pressure,
                                     .name = "partial-pressure",
                                     .help = "follows the partial pressure of oxygen",
                                     .sensitivity_unit = "V/Pa",
                                     .stimulus = partial_pressure_stimulus,
                                     .fraction = partial_pressure_fraction,
                                     .gain_of_lanes = partial_pressure_gain<Lanes>,
                                     .fractions = partial_pressure_fractions,
                                     .factors = partial_pressure_factors};

} // namespace oxherd::compensation::cells
