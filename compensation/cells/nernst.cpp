#include "compensation/cells/nernst.hpp"

#include "compensation/constants.hpp"

namespace oxherd::compensation::cells {

namespace {

constexpr double volts_per_kelvin = gas_constant / (4.0 * faraday_constant);

template <class Real> StimulusOf<Real> nernst_stimulus(Real fraction, const SurroundingsOf<Real>& at) {
  const double volts = volts_per_kelvin * at.furnace_K; // per factor e of the ratio of partial pressures
  const Real dry_Pa = at.p_Pa - at.vapour.e_Pa;
  const Real ratio = logarithm(at.reference_Pa / (fraction * dry_Pa));
  return {.value = volts * ratio,
          .d_fraction = -volts / fraction,
          .d_t = Real{},
          .d_p = -volts / dry_Pa,
          .d_e = volts / dry_Pa,
          .d_furnace = volts_per_kelvin * ratio,
          .d_reference = volts / at.reference_Pa};
}

template <class Real> Real nernst_fraction(Real stimulus, const SurroundingsOf<Real>& at) {
  const Real oxygen_Pa = at.reference_Pa * exponential(-stimulus / (volts_per_kelvin * at.furnace_K));
  return oxygen_Pa / (at.p_Pa - at.vapour.e_Pa);
}

Factors nernst_factors(const Surroundings& at, const Surroundings& calibrated) {
  const double dry = dry_part(calibrated) / dry_part(at);
  const double pressure = calibrated.p_Pa / at.p_Pa;
  const double reference_pressure = at.reference_total_Pa / calibrated.reference_total_Pa;
  const double reference_dry = at.reference_dry_Pa / calibrated.reference_dry_Pa / reference_pressure;
  return {.temperature = 1.0, .pressure = pressure * reference_pressure, .humidity = dry * reference_dry};
}

} // namespace

constinit const Law nernst{.model = CellModel::nernst,
                           .name = "nernst",
                           .help = "voltage of a heated zirconia cell against reference air",
                           .sensitivity_unit = "",
                           .uses_zero = false,
                           .stimulus = nernst_stimulus<double>,
                           .fraction = nernst_fraction<double>,
                           .stimulus_of_lanes = nernst_stimulus<Lanes>,
                           .fraction_of_lanes = nernst_fraction<Lanes>,
                           .factors = nernst_factors};

} // namespace oxherd::compensation::cells
