#pragma once

#include "control/programs/civil_time.hpp"

namespace oxherd::control {

/// A place on the earth. Latitude from -90 to 90, north positive; longitude from -180 to 180, east positive.
struct Place {
  double latitude_deg = 0.0;
  double longitude_deg = 0.0;
};

/// What the sun does in one day.
enum class Daylight {
  rises_and_sets,
  polar_night, ///< it stays below the horizon
  polar_day    ///< it stays above the horizon
};

/// One solar day, from the middle of one night to that of the next.
struct SunDay {
  Daylight daylight = Daylight::rises_and_sets;
  WallTime noon; ///< the sun is in the meridian
  /// In polar night both are noon; in polar day sunrise is 12 hours before it and sunset 12 hours before the next noon:
  /// what they come near to as the days grow shorter or longer. `daylight` says whether they are the real thing.
  WallTime sunrise, sunset;
};

/// Sunrise, noon and sunset of the solar day whose noon is on that date in the mean solar time of the place, to the
/// second. Sunrise and sunset are when the upper edge of the sun is at a level horizon at sea level: its centre 90.833
/// deg from the zenith, 34' for refraction and 16' for the radius of the sun. A day on which only one of the two can be
/// found (there are few, where polar day or night begins) counts as polar.
/// @source  equations of the NOAA solar calculator after J. Meeus, Astronomical Algorithms, chapters 25 and 28; their
///          stated accuracy is one minute up to 72 deg of latitude and ten minutes beyond, years 1901 to 2099
/// @checked tests/control/programs/sun_test.cpp: within 6 s of NREL's solar position algorithm and of an ephemeris at
///          middle latitudes, within the minutes of the US Naval Observatory
[[nodiscard]] SunDay sun_on(const Place& place, std::chrono::year_month_day date);

} // namespace oxherd::control
