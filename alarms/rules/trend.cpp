#include "alarms/rules/trend.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <limits>

namespace oxherd::alarms {

namespace {

constexpr std::size_t samples_max = trend_samples_max + 2;
using PairSlopes = std::array<double, samples_max*(samples_max - 1) / 2>;
using Place = PairSlopes::iterator;

constexpr double coverage_factor = 2.0;
constexpr double quantile_99 = 2.5758; // two-sided, of the normal distribution

double minutes_between(Monotonic from, Monotonic to) {
  return std::chrono::duration<double, std::ratio<60>>{to - from}.count();
}

/// How many of the sorted slopes lie below the interval: floor((N - z s) / 2); negative: no interval that narrow.
std::ptrdiff_t slopes_below(std::size_t n_samples, std::ptrdiff_t n_slopes, double z) {
  const auto n = static_cast<double>(n_samples);
  const double spread = z * std::sqrt(n * (n - 1.0) * (2.0 * n + 5.0) / 18.0);
  return static_cast<std::ptrdiff_t>(std::floor((static_cast<double>(n_slopes) - spread) / 2.0)) - 1;
}

/// Half width of the interval that leaves `below` slopes out on each side. Puts the slopes in order no further than it
/// must.
double half_width(Place begin, Place middle, Place end, double median, std::ptrdiff_t below) {
  if (below < 0) return std::numeric_limits<double>::infinity();
  const Place low = begin + below;
  const Place high = end - 1 - below;
  if (low < middle) std::nth_element(begin, low, middle);
  if (high > middle) std::nth_element(middle + 1, high, end);
  return std::max(median - *low, *high - median);
}

} // namespace

std::optional<Slope> slope_of(std::span<const TimedValue> samples) {
  assert(samples.size() <= samples_max);
  if (samples.size() < 2) return std::nullopt;
  PairSlopes slopes;
  Place end = slopes.begin();
  for (std::size_t later = 1; later < samples.size(); ++later)
    for (std::size_t earlier = 0; earlier < later; ++earlier)
      *end++ =
          (samples[later].value - samples[earlier].value) / minutes_between(samples[earlier].at, samples[later].at);
  const std::ptrdiff_t n = end - slopes.begin();
  const Place middle = slopes.begin() + n / 2;
  std::nth_element(slopes.begin(), middle, end);
  const bool even = n % 2 == 0;
  const double median = even ? (*std::max_element(slopes.begin(), middle) + *middle) / 2.0 : *middle;
  const auto width = [&](double z) {
    return half_width(slopes.begin(), middle, end, median, slopes_below(samples.size(), n, z));
  };
  return Slope{median, width(coverage_factor), width(quantile_99)};
}

void follow(Trend& trend, const RuleInput& in, Direction unfavourable, Monotonic window) {
  unsigned usable = 0;
  for (std::size_t i = 0; i < in.channels.size(); ++i)
    if (is_usable(in.channels[i])) usable |= 1U << i;
  auto& samples = trend.samples;
  if (!in.continuous || usable == 0 || usable != trend.usable) {
    samples.clear();
    trend.slope.reset();
    trend.usable = usable;
  }
  const auto standing = standing_value(in.channels, unfavourable);
  if (!standing) return;
  // Never zero, so that a sample that still holds is not taken twice.
  const Monotonic spacing = (window + Monotonic{trend_samples_max - 1}) / trend_samples_max;
  if (!samples.empty() && standing->taken - samples.back().at < spacing) return;
  const auto is_newer = [&](const TimedValue& s) { return standing->taken - s.at < window; };
  // The last one of those that are as old as the window stays, so that the samples span it whole.
  const auto first = std::find_if(samples.begin(), samples.end(), is_newer);
  if (first != samples.begin()) samples.erase(samples.begin(), first - 1);
  samples.reserve(samples_max);
  samples.push_back({standing->taken, standing->value});
  const bool full = samples.back().at - samples.front().at >= window;
  trend.slope = full ? slope_of(samples) : std::nullopt;
}

} // namespace oxherd::alarms
