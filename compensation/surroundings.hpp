#pragma once

#include <string_view>

#include <tl/expected.hpp>

#include "compensation/cell.hpp"
#include "compensation/errors.hpp"

namespace oxherd::compensation {

/// The vapour pressure e = f(p, t) h ps(t) of one gas in SI, and its slopes by what it is computed from.
struct Vapour {
  double saturation_Pa = 0.0; ///< pure phase over water, at the humidity probe
  double e_Pa = 0.0;
  double d_humidity = 0.0;
  double d_probe = 0.0; ///< by the temperature of the humidity probe
  double d_pressure = 0.0;
};

/// What acts on a cell at one moment, in SI: one GasConditions checked and resolved, with the cell's own parts.
struct Surroundings {
  double t_K = 0.0;
  double p_Pa = 0.0;
  Vapour vapour;
  Uncertain<Temperature> probe; ///< thermometer of the humidity probe, shared or not
  double response = 1.0;        ///< the cell's temperature response g(t)
  double response_slope = 0.0;  ///< dg/dt, 1/K
  double furnace_K = 0.0;       ///< Nernst cells only, as all below
  double reference_Pa = 0.0;    ///< oxygen partial pressure of the reference air
  double reference_total_Pa = 0.0;
  double reference_dry_Pa = 0.0;   ///< dry part of the reference air: the slope of the above by its oxygen fraction
  double u_reference_air_Pa = 0.0; ///< standard uncertainty of reference_Pa from the reference air's conditions
};

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
