#include "control/programs/sun.hpp"

#include <cmath>
#include <numbers>
#include <optional>

namespace oxherd::control {
namespace {

using std::chrono::hours;

constexpr double degree = std::numbers::pi / 180.0;
constexpr double zenith = 90.833 * degree;

struct SunPosition {
  double declination = 0.0;          ///< rad
  double equation_of_time_min = 0.0; ///< apparent less mean solar time
};

/// The letters are those of Meeus: T centuries since J2000, L0 mean longitude, M mean anomaly, e eccentricity.
SunPosition position_at(WallTime at) {
  const double unix_days = std::chrono::duration<double, std::ratio<86400>>{at.time_since_epoch()}.count();
  const double T = (unix_days + 2440587.5 - 2451545.0) / 36525.0;
  const double L0 = (280.46646 + T * (36000.76983 + T * 0.0003032)) * degree;
  const double M = (357.52911 + T * (35999.05029 - T * 0.0001537)) * degree;
  const double e = 0.016708634 - T * (0.000042037 + T * 0.0000001267);
  const double centre_deg = std::sin(M) * (1.914602 - T * (0.004817 + T * 0.000014)) +
                            std::sin(2.0 * M) * (0.019993 - T * 0.000101) + std::sin(3.0 * M) * 0.000289;
  const double node = (125.04 - 1934.136 * T) * degree;
  const double longitude = L0 + (centre_deg - 0.00569 - 0.00478 * std::sin(node)) * degree; // apparent
  const double obliquity_arcsec = 21.448 - T * (46.815 + T * (0.00059 - T * 0.001813));
  const double obliquity = (23.0 + (26.0 + obliquity_arcsec / 60.0) / 60.0 + 0.00256 * std::cos(node)) * degree;
  const double y = std::pow(std::tan(obliquity / 2.0), 2);
  const double equation = y * std::sin(2.0 * L0) - 2.0 * e * std::sin(M) +
                          4.0 * e * y * std::sin(M) * std::cos(2.0 * L0) - 0.5 * y * y * std::sin(4.0 * L0) -
                          1.25 * e * e * std::sin(2.0 * M);
  return {std::asin(std::sin(obliquity) * std::sin(longitude)), 4.0 * equation / degree};
}

/// How far the zenith distance of sunrise is from being reached: at -1 and below the sun stays up, at 1 and above down;
/// between them the cosine of the hour angle.
double hour_angle_cosine(const Place& place, const SunPosition& sun) {
  const double latitude = place.latitude_deg * degree;
  return (std::cos(zenith) - std::sin(latitude) * std::sin(sun.declination)) /
         (std::cos(latitude) * std::cos(sun.declination));
}

WallTime after(WallTime from, double time_min) {
  return from + std::chrono::round<std::chrono::seconds>(std::chrono::duration<double, std::ratio<60>>{time_min});
}

/// The sun moves while it rises, so each round takes its position at the time that the one before has found.
constexpr int rounds = 4;

WallTime noon_of(const Place& place, WallTime midnight_utc) {
  WallTime noon = after(midnight_utc, 720.0 - 4.0 * place.longitude_deg);
  for (int i = 0; i < rounds; ++i)
    noon = after(midnight_utc, 720.0 - 4.0 * place.longitude_deg - position_at(noon).equation_of_time_min);
  return noon;
}

/// @param side  -1 for sunrise, 1 for sunset
std::optional<WallTime> crossing(const Place& place, WallTime midnight_utc, WallTime noon, double side) {
  WallTime at = noon;
  for (int i = 0; i < rounds; ++i) {
    const auto sun = position_at(at);
    const double cosine = hour_angle_cosine(place, sun);
    if (std::abs(cosine) >= 1.0) return {};
    const double hour_angle_min = 4.0 * std::acos(cosine) / degree;
    at = after(midnight_utc, 720.0 - 4.0 * place.longitude_deg - sun.equation_of_time_min + side * hour_angle_min);
  }
  return at;
}

} // namespace

SunDay sun_on(const Place& place, std::chrono::year_month_day date) {
  const WallTime midnight_utc{std::chrono::sys_days{date}};
  const auto noon = noon_of(place, midnight_utc);
  const auto rise = crossing(place, midnight_utc, noon, -1.0);
  const auto set = crossing(place, midnight_utc, noon, 1.0);
  if (rise && set) return {Daylight::rises_and_sets, noon, *rise, *set};
  // At 0 the hour angle is six hours: which of the two limits is nearer decides, where only one event was found too.
  if (hour_angle_cosine(place, position_at(noon)) > 0.0) return {Daylight::polar_night, noon, noon, noon};
  const auto next_noon = noon_of(place, midnight_utc + hours{24});
  return {Daylight::polar_day, noon, noon - hours{12}, next_noon - hours{12}};
}

} // namespace oxherd::control
