#include "compensation/surroundings.hpp"

#include <cmath>
#include <utility>

#include <fmt/format.h>

#include "compensation/checks.hpp"
#include "compensation/response.hpp"
#include "compensation/spans.hpp"

namespace oxherd::compensation {

namespace {

[[nodiscard]] tl::expected<void, ReadingError> add_nernst(Surroundings& at, const NernstCell& nernst,
                                                          const GasConditions& air) {
  ReadingError problem;
  if (!accepted(nernst.furnace, furnace_span, "zirconia cell", shown_furnace, problem) ||
      !accepted(nernst.reference_oxygen, Span{1e-6, 1.0}, "reference air", shown_fraction, problem))
    return tl::unexpected(std::move(problem));
  const auto reference = resolve(air, "reference air");
  if (!reference) return tl::unexpected(reference.error());
  const double oxygen = nernst.reference_oxygen.value.si();
  at.furnace_K = nernst.furnace.value.si();
  at.reference_total_Pa = reference->p_Pa;
  at.reference_dry_Pa = reference->p_Pa - reference->vapour.e_Pa;
  at.reference_Pa = oxygen * at.reference_dry_Pa;
  const double by_pressure = (1.0 - reference->vapour.d_pressure) * air.pressure.u_si;
  const double by_humidity = reference->vapour.d_humidity * air.humidity.u_si;
  const double by_probe = reference->vapour.d_probe * uncertainty_of(air).probe_K;
  at.u_reference_air_Pa =
      oxygen * std::sqrt(by_pressure * by_pressure + by_humidity * by_humidity + by_probe * by_probe);
  return {};
}

/// Adds the cell's temperature response.
[[nodiscard]] tl::expected<Surroundings, ReadingError>
with_response(const Cell& cell, tl::expected<Surroundings, ReadingError> at, std::string_view where) {
  if (cell.response.coefficients.empty()) return at;
  const Sloped g = response_at(cell.response, at->t_K);
  if (!is_response(g.value))
    return tl::unexpected(ReadingError{
        fmt::format("{}: the cell's temperature response is {:.4g} at {:.4g} °C; it must be above zero over the "
                    "temperatures of use, so check its coefficients",
                    where, g.value, at->t_K - ice_point)});
  at->response = g.value;
  at->response_slope = g.slope;
  return at;
}

} // namespace

tl::expected<Surroundings, ReadingError> resolve(const GasConditions& gas, std::string_view where) {
  ReadingError problem;
  if (!accepted(gas.temperature, saturation_span, where, shown_temperature, problem) ||
      !accepted(gas.humidity, humidity_span, where, shown_humidity, problem) ||
      !accepted(gas.pressure, pressure_span, where, shown_pressure, problem))
    return tl::unexpected(std::move(problem));
  if (gas.humidity_temperature && !accepted(*gas.humidity_temperature, saturation_span, where, shown_probe, problem))
    return tl::unexpected(std::move(problem));
  Surroundings at;
  at.t_K = gas.temperature.value.si();
  at.p_Pa = gas.pressure.value.si();
  const double probe_K = (gas.humidity_temperature ? *gas.humidity_temperature : gas.temperature).value.si();
  at.vapour = vapour_of(gas.humidity.value.si(), probe_K, at.p_Pa);
  if (at.vapour.e_Pa < at.p_Pa) [[likely]]
    return at;
  return tl::unexpected(ReadingError{fmt::format(
      "{}: {:.4g} % relative humidity at {:.4g} °C makes {:.4g} kPa of water vapour, which is not below the "
      "total pressure of {:.4g} kPa; check temperature, humidity and pressure",
      where, gas.humidity.value.si() * 100.0, probe_K - ice_point, at.vapour.e_Pa / 1e3, at.p_Pa / 1e3)});
}

tl::expected<Surroundings, ReadingError> resolve_at_cell(const Cell& cell, const GasConditions& gas,
                                                         const GasConditions* reference_air, std::string_view where) {
  auto at = resolve(gas, where);
  if (!at) return at;
  if (cell.nernst && reference_air != nullptr) {
    if (const auto added = add_nernst(*at, *cell.nernst, *reference_air); !added) return tl::unexpected(added.error());
  }
  return with_response(cell, std::move(at), where);
}

tl::expected<Surroundings, ReadingError> resolve_beside(const Cell& cell, const GasConditions& gas,
                                                        const Surroundings& resolved, std::string_view where) {
  auto at = resolve(gas, where);
  if (!at) return at;
  at->furnace_K = resolved.furnace_K;
  at->reference_Pa = resolved.reference_Pa;
  at->reference_total_Pa = resolved.reference_total_Pa;
  at->reference_dry_Pa = resolved.reference_dry_Pa;
  at->u_reference_air_Pa = resolved.u_reference_air_Pa;
  return with_response(cell, std::move(at), where);
}

} // namespace oxherd::compensation
