#include "compensation/carbon_dioxide.hpp"

#include <cmath>

#include "compensation/checks.hpp"

namespace oxherd::compensation {

namespace {

constexpr Shown shown_carbon_dioxide{"carbon dioxide fraction", "ppm", 1e6};
/// A probe may indicate a little below zero; a value in ppm or percent that was not converted falls outside.
constexpr Span indicated_span{-0.01, 1.0};

} // namespace

tl::expected<Uncertain<WetFraction>, ReadingError>
correct_ndir(Uncertain<WetFraction> indicated, const NdirReference& reference, const GasConditions& gas) {
  ReadingError problem;
  const Uncertain<Pressure> p0{reference.pressure};
  const Uncertain<Temperature> t0{reference.temperature};
  if (!accepted(indicated, indicated_span, "sample", shown_carbon_dioxide, problem) ||
      !accepted(p0, pressure_span, "adjustment of the probe", shown_pressure, problem) ||
      !accepted(t0, saturation_span, "adjustment of the probe", shown_temperature, problem) ||
      !accepted(gas.pressure, pressure_span, "sample", shown_pressure, problem) ||
      !accepted(gas.temperature, saturation_span, "sample", shown_temperature, problem))
    return tl::unexpected(std::move(problem));
  const double p_Pa = gas.pressure.value.si();
  const double t_K = gas.temperature.value.si();
  const double factor = reference.pressure.si() / p_Pa * (t_K / reference.temperature.si());
  const double corrected = indicated.value.si() * factor;
  const double by_indication = factor * indicated.u_si;
  const double by_pressure = corrected / p_Pa * gas.pressure.u_si;
  const double by_temperature = corrected / t_K * gas.temperature.u_si;
  const double u =
      std::sqrt(by_indication * by_indication + by_pressure * by_pressure + by_temperature * by_temperature);
  return Uncertain<WetFraction>{WetFraction::from_si(corrected), u};
}

} // namespace oxherd::compensation
