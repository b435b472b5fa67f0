#pragma once

#include <string_view>

#include <tl/expected.hpp>

#include "compensation/cell.hpp"
#include "compensation/errors.hpp"
#include "compensation/saturation.hpp"

namespace oxherd::compensation {

/// The vapour pressure e = f(p, t) h ps(t) of one gas in SI, and its slopes by what it is computed from.
template <class Real> struct VapourOf {
  Real saturation_Pa{}; ///< pure phase over water, at the humidity probe
  Real e_Pa{};
  Real d_humidity{};
  Real d_probe{}; ///< by the temperature of the humidity probe
  Real d_pressure{};
};

/// The same from relative humidity, temperature of the humidity probe and pressure; spans are not checked.
/// @source moist_air.hpp; the slopes are the analytic derivatives of the same equations
template <class Real> [[nodiscard]] inline VapourOf<Real> vapour_of(Real h, Real probe_K, Real p_Pa) {
  const SlopedOf<Real> saturation = saturation_SI(probe_K);
  const Real f = enhancement_SI(p_Pa, probe_K);
  const Real df_probe = 2.0 * enhancement_gamma * (probe_K - ice_point);
  return {.saturation_Pa = saturation.value,
          .e_Pa = f * h * saturation.value,
          .d_humidity = f * saturation.value,
          .d_probe = h * (f * saturation.slope + df_probe * saturation.value),
          .d_pressure = h * enhancement_beta * saturation.value};
}

/// What acts on a cell at one moment, in SI: one GasConditions checked and resolved, with the cell's own parts.
template <class Real> struct SurroundingsOf {
  Real t_K{};
  Real p_Pa{};
  VapourOf<Real> vapour;
  Real response = spread_over<Real>(1.0); ///< the cell's temperature response g(t)
  Real response_slope{};                  ///< dg/dt, 1/K
  double furnace_K = 0.0;                 ///< Nernst cells only, as all below
  double reference_Pa = 0.0;              ///< oxygen partial pressure of the reference air
  double reference_total_Pa = 0.0;
  double reference_dry_Pa = 0.0;   ///< dry part of the reference air: the slope of the above by its oxygen fraction
  double u_reference_air_Pa = 0.0; ///< standard uncertainty of reference_Pa from the reference air's conditions
};
using Surroundings = SurroundingsOf<double>;

/// Standard uncertainties of the conditions of one gas, in SI.
template <class Real> struct GasUncertainty {
  Real temperature_K{};
  Real humidity{};
  Real probe_K{}; ///< of the thermometer of the humidity probe, shared or not
  Real pressure_Pa{};
  bool own_probe = false; ///< false: one thermometer serves both, so its error acts through both at once
};
[[nodiscard]] inline GasUncertainty<double> uncertainty_of(const GasConditions& gas) {
  return {.temperature_K = gas.temperature.u_si,
          .humidity = gas.humidity.u_si,
          .probe_K = gas.humidity_temperature ? gas.humidity_temperature->u_si : gas.temperature.u_si,
          .pressure_Pa = gas.pressure.u_si,
          .own_probe = gas.humidity_temperature.has_value()};
}

/// Checks a gas and computes its vapour pressure.
/// @param where  the gas in a person's words, for the message: "sample", "calibration"
/// @return ReadingError when a value is not finite, lies outside its span or leaves no dry gas
/// @source moist_air.hpp; the slopes are the analytic derivatives of the same equations
[[nodiscard]] tl::expected<Surroundings, ReadingError> resolve(const GasConditions& gas, std::string_view where);

/// The same for a gas at a cell: adds the temperature response, the furnace and the reference air.
/// @param reference_air  for Nernst cells: the air on the reference side at that moment
[[nodiscard]] tl::expected<Surroundings, ReadingError>
resolve_at_cell(const Cell& cell, const GasConditions& gas, const GasConditions* reference_air, std::string_view where);

/// The same with furnace and reference air taken from surroundings of this cell that were resolved before.
[[nodiscard]] tl::expected<Surroundings, ReadingError>
resolve_beside(const Cell& cell, const GasConditions& gas, const Surroundings& resolved, std::string_view where);

} // namespace oxherd::compensation
