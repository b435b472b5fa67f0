#pragma once

#include "compensation/quantity.hpp"
#include "demo/noise.hpp"

namespace oxherd::demo {

/// A value that moves in a straight line from what it was to what it shall be.
class Ramp {
public:
  explicit Ramp(double value) : from_{value}, to_{value} {}
  void go(double to, double now_s, double over_s);
  [[nodiscard]] double at(double now_s) const;

private:
  double from_;
  double to_;
  double start_s_ = 0.0;
  double over_s_ = 0.0;
};

/// Simulated time 0 is this hour of the day at the site.
inline constexpr double first_hour = 8.0;
[[nodiscard]] double hour_of_day(double now_s);
/// Light on the plants, 0 to 1: on from 6 to 20 o'clock.
[[nodiscard]] double light(double now_s);

/// The weather over the site: a scripted barometer with the tide of the atmosphere and gusts on it, a daily swing of
/// temperature, and humidity.
class Weather {
public:
  explicit Weather(Noise noise) : noise_{noise} {}
  void advance(double now_s, double dt_s);
  [[nodiscard]] Pressure pressure() const { return pascals(pressure_Pa_); }
  [[nodiscard]] Temperature temperature() const { return celsius(temperature_C_); }
  [[nodiscard]] RelativeHumidity humidity() const { return RelativeHumidity::from_si(humidity_); }

  Ramp station_hPa{996.0};
  Ramp mean_temperature_C{14.0};
  Ramp humidity_percent{70.0};

private:
  Noise noise_;
  double gust_Pa_ = 0.0;
  double pressure_Pa_ = 99600.0;
  double temperature_C_ = 14.0;
  double humidity_ = 0.7;
};

} // namespace oxherd::demo
