#include "compensation/cells/mole_fraction.hpp"

namespace oxherd::compensation::cells {

namespace {

template <class Real> Gain<Real> mole_fraction_gain(const SurroundingsOf<Real>& at) {
  const Real dry = dry_part(at);
  return {.value = at.response * dry,
          .d_t = at.response_slope * dry,
          .d_p = at.response * at.vapour.e_Pa / (at.p_Pa * at.p_Pa),
          .d_e = -at.response / at.p_Pa};
}

Stimulus mole_fraction_stimulus(double fraction, const Surroundings& at) {
  return linear_stimulus(fraction, mole_fraction_gain(at));
}

double mole_fraction_fraction(double stimulus, const Surroundings& at) {
  return linear_fraction(stimulus, mole_fraction_gain(at));
}

void mole_fraction_fractions(BlockColumn& values, const GasBlock& at) {
  for (std::size_t i = 0; i < block_rows; ++i) values[i] *= at.p_Pa[i] / (at.response[i] * (at.p_Pa[i] - at.e_Pa[i]));
}

Factors mole_fraction_factors(const Surroundings& at, const Surroundings& calibrated) {
  return {.temperature = calibrated.response / at.response,
          .pressure = 1.0,
          .humidity = dry_part(calibrated) / dry_part(at)};
}

} // namespace

constinit const Law mole_fraction{.model = CellModel::mole_fraction,
                                  .name = "mole-fraction",
                                  .help = "follows the mole fraction in the moist gas (cells behind a capillary)",
                                  .sensitivity_unit = "V",
                                  .stimulus = mole_fraction_stimulus,
                                  .fraction = mole_fraction_fraction,
                                  .gain_of_lanes = mole_fraction_gain<Lanes>,
                                  .fractions = mole_fraction_fractions,
                                  .factors = mole_fraction_factors};

} // namespace oxherd::compensation::cells
