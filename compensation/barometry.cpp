#include "compensation/barometry.hpp"

#include <cmath>

#include "compensation/constants.hpp"
#include "compensation/spans.hpp"

namespace oxherd::compensation {

namespace {

constexpr double isa_t0_K = 288.15;
constexpr double isa_lapse = 0.0065;                               // K per standard geopotential metre
constexpr double isa_exponent = 9.80665 / (287.05287 * isa_lapse); // ISO 2533 prints R = 287.05287 J/(kg K)
constexpr double earth_radius_m = 6356766.0;
constexpr Span isa_altitude{-2000.0, 11000.0};
/// Sea-level pressures taken as possible: the extremes on record are 870 hPa and 1085 hPa (common knowledge).
constexpr Span possible_sea_level{80e3, 115e3};

double isa_pressure_Pa(double h_m) {
  return standard_atmosphere * std::pow(1.0 - isa_lapse * h_m / isa_t0_K, isa_exponent);
}

double station_from_qnh_Pa(double qnh_Pa, double h_m) {
  const double base = std::pow(qnh_Pa / standard_atmosphere, 1.0 / isa_exponent) - isa_lapse * h_m / isa_t0_K;
  return standard_atmosphere * std::pow(base, isa_exponent);
}

} // namespace

GeopotentialAltitude geopotential(Elevation z) {
  return GeopotentialAltitude::from_si(earth_radius_m * z.si() / (earth_radius_m + z.si()));
}

tl::expected<Pressure, RangeError> standard_pressure(GeopotentialAltitude h) {
  if (!isa_altitude.covers(h.si())) return tl::unexpected(isa_altitude.refuse(h.si()));
  return Pressure::from_si(isa_pressure_Pa(h.si()));
}

tl::expected<Temperature, RangeError> standard_temperature(GeopotentialAltitude h) {
  if (!isa_altitude.covers(h.si())) return tl::unexpected(isa_altitude.refuse(h.si()));
  return Temperature::from_si(isa_t0_K - isa_lapse * h.si());
}

tl::expected<GeopotentialAltitude, RangeError> pressure_altitude(Pressure p) {
  static const Span covered{isa_pressure_Pa(isa_altitude.high), isa_pressure_Pa(isa_altitude.low)};
  if (!covered.covers(p.si())) return tl::unexpected(covered.refuse(p.si()));
  const double ratio = std::pow(p.si() / standard_atmosphere, 1.0 / isa_exponent);
  return GeopotentialAltitude::from_si((1.0 - ratio) * isa_t0_K / isa_lapse);
}

tl::expected<Pressure, RangeError> station_pressure(SeaLevelPressure qnh, GeopotentialAltitude h) {
  if (!isa_altitude.covers(h.si())) return tl::unexpected(isa_altitude.refuse(h.si()));
  if (!possible_sea_level.covers(qnh.si())) return tl::unexpected(possible_sea_level.refuse(qnh.si()));
  return Pressure::from_si(station_from_qnh_Pa(qnh.si(), h.si()));
}

tl::expected<SeaLevelPressure, RangeError> sea_level_pressure(Pressure station, GeopotentialAltitude h) {
  if (!isa_altitude.covers(h.si())) return tl::unexpected(isa_altitude.refuse(h.si()));
  const Span possible{station_from_qnh_Pa(possible_sea_level.low, h.si()),
                      station_from_qnh_Pa(possible_sea_level.high, h.si())};
  if (!possible.covers(station.si())) return tl::unexpected(possible.refuse(station.si()));
  const double base = std::pow(station.si() / standard_atmosphere, 1.0 / isa_exponent) + isa_lapse * h.si() / isa_t0_K;
  return SeaLevelPressure::from_si(standard_atmosphere * std::pow(base, isa_exponent));
}

} // namespace oxherd::compensation
