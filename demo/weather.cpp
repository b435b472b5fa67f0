#include "demo/weather.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace oxherd::demo {
namespace {

constexpr double tide_Pa = 40.0; // twice a day; the atmosphere's tide at middle latitudes is of this size
constexpr double gust_Pa = 4.0;
constexpr double gust_time_constant_s = 60.0;
constexpr double daily_swing_K = 4.0;
constexpr double two_pi = 2.0 * std::numbers::pi;

} // namespace

void Ramp::go(double to, double now_s, double over_s) {
  from_ = at(now_s);
  to_ = to;
  start_s_ = now_s;
  over_s_ = over_s;
}

double Ramp::at(double now_s) const {
  if (over_s_ <= 0.0) return to_;
  const double part = std::clamp((now_s - start_s_) / over_s_, 0.0, 1.0);
  return from_ + (to_ - from_) * part;
}

double hour_of_day(double now_s) { return std::fmod(first_hour + now_s / 3600.0, 24.0); }

double light(double now_s) {
  const double hour = hour_of_day(now_s);
  return hour >= 6.0 && hour < 20.0 ? 1.0 : 0.0;
}

void Weather::advance(double now_s, double dt_s) {
  const double kept = std::exp(-dt_s / gust_time_constant_s);
  gust_Pa_ = gust_Pa_ * kept + noise_.normal(gust_Pa * std::sqrt(1.0 - kept * kept));
  pressure_Pa_ = station_hPa.at(now_s) * 100.0 + tide_Pa * std::sin(two_pi * now_s / 43200.0) + gust_Pa_;
  temperature_C_ = mean_temperature_C.at(now_s) + daily_swing_K * std::sin(two_pi * (hour_of_day(now_s) - 9.0) / 24.0);
  humidity_ = humidity_percent.at(now_s) / 100.0;
}

} // namespace oxherd::demo
