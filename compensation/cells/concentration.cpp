#include "compensation/cells/concentration.hpp"

#include "compensation/constants.hpp"

namespace oxherd::compensation::cells {

namespace {

template <class Real> Gain<Real> concentration_gain(const SurroundingsOf<Real>& at) {
  const Real per_pascal = at.response / (gas_constant * at.t_K);
  const Real value = per_pascal * (at.p_Pa - at.vapour.e_Pa);
  return {.value = value,
          .d_t = value * (at.response_slope / at.response - 1.0 / at.t_K),
          .d_p = per_pascal,
          .d_e = -per_pascal};
}

Stimulus concentration_stimulus(double fraction, const Surroundings& at) {
  return linear_stimulus(fraction, concentration_gain(at));
}

double concentration_fraction(double stimulus, const Surroundings& at) {
  return linear_fraction(stimulus, concentration_gain(at));
}

void concentration_fractions(BlockColumn& values, const GasBlock& at) {
  for (std::size_t i = 0; i < block_rows; ++i)
    values[i] *= gas_constant * at.t_K[i] / (at.response[i] * (at.p_Pa[i] - at.e_Pa[i]));
}

Factors concentration_factors(const Surroundings& at, const Surroundings& calibrated) {
  return {.temperature = at.t_K / calibrated.t_K * (calibrated.response / at.response),
          .pressure = calibrated.p_Pa / at.p_Pa,
          .humidity = dry_part(calibrated) / dry_part(at)};
}

} // namespace

constinit const Law concentration{.model = CellModel::concentration,
                                  .name = "concentration",
                                  .help = "follows the amount of oxygen per volume (passive galvanic cells)",
                                  .sensitivity_unit = "V/(mol/m3)",
                                  .stimulus = concentration_stimulus,
                                  .fraction = concentration_fraction,
                                  .gain_of_lanes = concentration_gain<Lanes>,
                                  .fractions = concentration_fractions,
                                  .factors = concentration_factors};

} // namespace oxherd::compensation::cells
