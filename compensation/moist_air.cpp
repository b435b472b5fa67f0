#include "compensation/moist_air.hpp"

#include <cmath>

#include "compensation/saturation.hpp"
#include "compensation/spans.hpp"

namespace oxherd::compensation {

tl::expected<Pressure, RangeError> saturation_pressure_over_water(Temperature t) {
  if (!saturation_span.covers(t.si())) return tl::unexpected(saturation_span.refuse(t.si()));
  return Pressure::from_si(saturation_SI(t.si()).value);
}

tl::expected<Temperature, RangeError> saturation_temperature_over_water(Pressure p) {
  static const Span covered{saturation_SI(saturation_low_K).value, saturation_SI(saturation_high_K).value};
  if (!covered.covers(p.si())) return tl::unexpected(covered.refuse(p.si()));
  const auto& n = saturation_n;
  const double beta = std::sqrt(std::sqrt(p.si() / 1e6)); // the source takes megapascals
  const double e = (beta + n[3]) * beta + n[6];
  const double f = (n[1] * beta + n[4]) * beta + n[7];
  const double g = (n[2] * beta + n[5]) * beta + n[8];
  const double d = 2.0 * g / (-f - std::sqrt(f * f - 4.0 * e * g));
  const double sum = n[10] + d;
  return Temperature::from_si((sum - std::sqrt(sum * sum - 4.0 * (n[9] + n[10] * d))) / 2.0);
}

tl::expected<Pressure, RangeError> sublimation_pressure_over_ice(Temperature t) {
  constexpr Span covered{50.0, 273.16};
  if (!covered.covers(t.si())) return tl::unexpected(covered.refuse(t.si()));
  const double theta = t.si() / 273.16;
  const double sum = -0.212144006e2 * std::pow(theta, 0.333333333e-2) + 0.273203819e2 * std::pow(theta, 0.120666667e1) -
                     0.610598130e1 * std::pow(theta, 0.170333333e1);
  return Pressure::from_si(611.657 * std::exp(sum / theta));
}

double enhancement_factor(Pressure p, Temperature t) { return enhancement_SI(p.si(), t.si()); }

tl::expected<Pressure, RangeError> vapour_pressure(RelativeHumidity h, Temperature probe, Pressure p) {
  if (!humidity_span.covers(h.si())) return tl::unexpected(humidity_span.refuse(h.si()));
  if (!saturation_span.covers(probe.si())) return tl::unexpected(saturation_span.refuse(probe.si()));
  if (!pressure_span.covers(p.si())) return tl::unexpected(pressure_span.refuse(p.si()));
  return Pressure::from_si(enhancement_SI(p.si(), probe.si()) * h.si() * saturation_SI(probe.si()).value);
}

tl::expected<Temperature, RangeError> dew_point(Pressure vapour) { return saturation_temperature_over_water(vapour); }

tl::expected<double, RangeError> humidity_over_ice(RelativeHumidity over_water, Temperature t) {
  if (!humidity_span.covers(over_water.si())) return tl::unexpected(humidity_span.refuse(over_water.si()));
  constexpr Span covered{saturation_low_K, 273.16}; // warmer, there is no ice
  if (!covered.covers(t.si())) return tl::unexpected(covered.refuse(t.si()));
  const auto ice = sublimation_pressure_over_ice(t);
  if (!ice) return tl::unexpected(ice.error());
  return over_water.si() * saturation_SI(t.si()).value / ice->si();
}

} // namespace oxherd::compensation
