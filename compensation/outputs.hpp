#pragma once

#include <array>

#include "compensation/budget.hpp"
#include "compensation/constants.hpp"

namespace oxherd::compensation {

/// The inputs that also move the gas around the cell itself; they lie together in the budget.
inline constexpr std::size_t own_first = static_cast<std::size_t>(Input::temperature);
inline constexpr std::size_t own_count = 4;
static_assert(static_cast<std::size_t>(Input::humidity) == own_first + 1);
static_assert(static_cast<std::size_t>(Input::humidity_temperature) == own_first + 2);
static_assert(static_cast<std::size_t>(Input::pressure) == own_first + 3);

/// How that gas moves with these four inputs, each already times u.
template <class Real> struct OwnSpread {
  std::array<Real, own_count> dry_Pa{};   ///< of p - e
  std::array<Real, own_count> dry_part{}; ///< of 1 - e/p
  std::array<Real, own_count> t_K{};      ///< of the temperature of the gas
};
template <class Real>
[[nodiscard]] inline OwnSpread<Real> own_spread(const GasUncertainty<Real>& u, const SurroundingsOf<Real>& at) {
  const VapourOf<Real>& v = at.vapour;
  const Real by_probe_Pa = -v.d_probe * u.probe_K;
  const Real by_humidity_Pa = -v.d_humidity * u.humidity;
  const Real by_probe_part = by_probe_Pa / at.p_Pa;
  const Real u_p_Pa = u.pressure_Pa;
  return {.dry_Pa = {u.own_probe ? Real{} : by_probe_Pa, by_humidity_Pa, u.own_probe ? by_probe_Pa : Real{},
                     (1.0 - v.d_pressure) * u_p_Pa},
          .dry_part = {u.own_probe ? Real{} : by_probe_part, by_humidity_Pa / at.p_Pa,
                       u.own_probe ? by_probe_part : Real{}, (v.e_Pa / at.p_Pa - v.d_pressure) / at.p_Pa * u_p_Pa},
          .t_K = {u.temperature_K, Real{}, Real{}, Real{}}};
}

/// A fraction and what derives from it, each with its standard uncertainty.
template <class Real> struct OutputsOf {
  Real dry{};
  Real wet{};
  Real po2_Pa{};
  Real molar{};
  Real u_dry{};
  Real u_wet{};
  Real u_po2_Pa{};
  Real u_molar{};
};

/// @param spread  signed contributions of every input to the dry fraction
/// @source GUM (JCGM 100:2008) equation (10); an input that moves both the fraction and the gas has its effects summed
template <class Real>
[[nodiscard]] inline OutputsOf<Real> outputs_of(Real dry, const ContributionsOf<Real>& spread,
                                                const OwnSpread<Real>& own, const SurroundingsOf<Real>& at) {
  const Real dry_Pa = at.p_Pa - at.vapour.e_Pa;
  const Real part = cells::dry_part(at);
  const Real po2_Pa = dry * dry_Pa;
  const Real per_molar = 1.0 / (gas_constant * at.t_K);
  const Real molar = po2_Pa * per_molar;
  Real others{}; // squares of all inputs that reach the other outputs through the dry fraction only
  for (std::size_t i = 0; i < own_first; ++i) others += spread[i] * spread[i];
  for (std::size_t i = own_first + own_count; i < input_count; ++i) others += spread[i] * spread[i];
  Real dry2 = others;
  Real wet2 = part * part * others;
  Real po2_2 = dry_Pa * dry_Pa * others;
  Real molar2 = per_molar * per_molar * po2_2;
  for (std::size_t i = 0; i < own_count; ++i) {
    const Real c = spread[own_first + i];
    const Real by_wet = part * c + dry * own.dry_part[i];
    const Real by_po2 = dry_Pa * c + dry * own.dry_Pa[i];
    const Real by_molar = by_po2 * per_molar - molar / at.t_K * own.t_K[i];
    dry2 += c * c;
    wet2 += by_wet * by_wet;
    po2_2 += by_po2 * by_po2;
    molar2 += by_molar * by_molar;
  }
  return {.dry = dry,
          .wet = dry * part,
          .po2_Pa = po2_Pa,
          .molar = molar,
          .u_dry = square_root(dry2),
          .u_wet = square_root(wet2),
          .u_po2_Pa = square_root(po2_2),
          .u_molar = square_root(molar2)};
}

/// Sets the fraction, what derives from it, and the standard uncertainties of all.
/// @param spread  signed contributions of every input to the dry fraction
void derive_outputs(OxygenReading& reading, double dry, const Contributions& spread, const OwnSpread<double>& own,
                    const Surroundings& at);

} // namespace oxherd::compensation
