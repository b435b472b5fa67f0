#include "control/programs/ramp.hpp"

#include <algorithm>
#include <cmath>

namespace oxherd::control {
namespace {

constexpr double ms_per_h = 3600e3;
constexpr double ramp_ms_most = 10.0 * 365.0 * 24.0 * ms_per_h; // so that no cast overflows

} // namespace

Monotonic time_of(const Ramp& ramp, double from, double target) {
  if (from == target) return Monotonic{0};
  if (!ramp.most_per_h) return ramp.over;
  const double at_most_rate_ms = std::ceil(std::abs(target - from) / *ramp.most_per_h * ms_per_h);
  return std::max(ramp.over, Monotonic{static_cast<Monotonic::rep>(std::min(at_most_rate_ms, ramp_ms_most))});
}

Ramp no_faster(Ramp ramp, std::optional<double> most_per_h) {
  if (most_per_h) ramp.most_per_h = std::min(ramp.most_per_h.value_or(*most_per_h), *most_per_h);
  return ramp;
}

Motion motion_at(const Ramp& ramp, double from, double target, Monotonic since) {
  const auto whole = time_of(ramp, from, target);
  if (since >= whole) return {target, 0.0, Monotonic{0}};
  const double hours = alarms::seconds_of(whole) / 3600.0;
  const double part = alarms::seconds_of(since) / alarms::seconds_of(whole);
  return {std::lerp(from, target, part), (target - from) / hours, whole - since};
}

double moved(double from, double target, double most_per_h, Monotonic elapsed) {
  const double way = target - from;
  const double most = most_per_h * alarms::seconds_of(elapsed) / 3600.0;
  // A target that itself moves at the greatest rate is followed exactly, whatever the last bit of both products.
  if (std::abs(way) <= most * (1.0 + 1e-9)) return target;
  return from + std::copysign(most, way);
}

} // namespace oxherd::control
