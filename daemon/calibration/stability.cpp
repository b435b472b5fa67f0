#include "daemon/calibration/stability.hpp"

#include <algorithm>
#include <cmath>

#include <fmt/core.h>

#include "compensation/regression.hpp"

namespace oxherd::daemon {
namespace {

using compensation::DataPair;
using compensation::LineFit;

constexpr double seconds_per_minute = 60.0;

/// The newest samples that lie within the window.
std::span<const StabilitySample> trailing(std::span<const StabilitySample> samples, double seconds) {
  if (samples.empty()) return samples;
  const double from = samples.back().seconds - seconds;
  const auto first = std::find_if(samples.begin(), samples.end(), [&](const auto& s) { return s.seconds >= from; });
  // The last sample before the window goes with it, or a window of uneven polls would never be long enough.
  const auto kept = first == samples.begin() || first->seconds == from ? first : first - 1;
  return samples.subspan(static_cast<std::size_t>(kept - samples.begin()));
}

/// What makes the series unfit for any judgement, in words; empty when it is fit.
std::string unfit(std::span<const StabilitySample> window, SignalScale scale, const StabilityRules& rules) {
  if (!(scale.scale_V > 0.0)) return "the signal to compare with is not known: give the cell's signal in air";
  for (std::size_t i = 0; i < window.size(); ++i) {
    if (!std::isfinite(window[i].signal_V) || !std::isfinite(window[i].seconds)) return "a sample is not a number";
    if (i == 0) continue;
    const double step = window[i].seconds - window[i - 1].seconds;
    if (!(step > 0.0)) return "the samples are not in the order of time";
    if (step > rules.gap_seconds_max)
      return fmt::format("a gap of {:.0f} s between samples (at most {:.0f} s)", step, rules.gap_seconds_max);
  }
  return {};
}

/// Pairs of minutes since the first sample and a value, for those samples that have it.
template <class Value> std::vector<DataPair> over_minutes(std::span<const StabilitySample> window, Value value) {
  std::vector<DataPair> pairs;
  pairs.reserve(window.size());
  for (const auto& sample : window) {
    const std::optional<double> v = value(sample);
    if (v && std::isfinite(*v)) pairs.push_back({(sample.seconds - window.front().seconds) / seconds_per_minute, *v});
  }
  return pairs;
}

std::optional<double> range_of(const std::vector<DataPair>& pairs) {
  if (pairs.empty()) return {};
  const auto [low, high] =
      std::minmax_element(pairs.begin(), pairs.end(), [](const auto& a, const auto& b) { return a.y < b.y; });
  return high->y - low->y;
}

std::string_view direction(double slope) { return slope < 0.0 ? "falls" : "rises"; }

/// Seconds until a signal that settles exponentially has a slope within `wanted`, from how its slope has fallen
/// between the halves of the window. Empty when it does not plainly settle.
std::optional<double> settling_seconds(const std::vector<DataPair>& pairs, double slope, double wanted) {
  const std::size_t half = pairs.size() / 2;
  const std::span<const DataPair> all{pairs};
  const auto early = compensation::fit_line(all.first(half));
  const auto late = compensation::fit_line(all.last(half));
  if (!early || !late || !(wanted > 0.0)) return {};
  constexpr double plain = 5.0; // standard errors: the ratio of two slopes that are not plain would be a guess
  if (std::abs(early->t_of_slope()) < plain || std::abs(late->t_of_slope()) < plain) return {};
  const double ratio = early->slope / late->slope;
  if (ratio < 1.1) return {}; // a straight ramp, a slope that grows, or one that has turned
  const double time_constant_min = (late->mean_x - early->mean_x) / std::log(ratio);
  const double left = time_constant_min * std::log(std::abs(slope) / wanted) * seconds_per_minute;
  constexpr double far_s = 3600.0; // beyond that it is no forecast
  if (!(left > 0.0) || left > far_s) return {};
  return left;
}

std::vector<DataPair> signal_of(std::span<const StabilitySample> window) {
  return over_minutes(window, [](const auto& s) { return std::optional{s.signal_V}; });
}

/// What everything is relative to.
double reference_of(const std::vector<DataPair>& pairs, SignalScale scale, const StabilityRules& rules) {
  double mean_V = 0.0;
  for (const auto& pair : pairs) mean_V += pair.y / static_cast<double>(pairs.size());
  return std::max(std::abs(mean_V), rules.floor_of_scale * scale.scale_V);
}

/// Half the width of the slope's confidence interval, in volts a minute.
tl::expected<double, compensation::StatisticsError> reach_of(const LineFit& fit, const std::vector<DataPair>& pairs,
                                                             SignalScale scale, const StabilityRules& rules) {
  const auto interval = compensation::slope_interval(fit, rules.level);
  if (!interval) return tl::unexpected(interval.error());
  // A slope that stays within one step of the input cannot be seen at all, so it is granted to both ends.
  const double unseen = scale.resolution_V / (pairs.back().x - pairs.front().x);
  return (interval->high - interval->low) / 2.0 + unseen;
}

/// Whether the noise of this window lets a level signal pass most of the time. Looks at the noise only: a window
/// chosen by its slope would pass slopes by choice.
bool tells_enough(std::span<const StabilitySample> window, SignalScale scale, const StabilityRules& rules) {
  const auto pairs = signal_of(window);
  const auto fit = compensation::fit_line(pairs);
  if (!fit) return false;
  const auto wide = compensation::widened_for_memory(*fit, pairs, rules.effective_samples_min);
  if (!wide) return false;
  const auto reach = reach_of(*wide, pairs, scale, rules);
  return reach && *reach <= rules.slope_per_minute / 2.0 * reference_of(pairs, scale, rules);
}

/// The shortest window that tells enough, else the longest there is.
std::span<const StabilitySample> window_of(std::span<const StabilitySample> samples, SignalScale scale,
                                           const StabilityRules& rules) {
  constexpr double step_s = 60.0;
  auto window = trailing(samples, rules.seconds);
  for (double seconds = rules.seconds + step_s; seconds <= rules.seconds_max; seconds += step_s) {
    const auto wider = trailing(samples, seconds);
    if (wider.size() == window.size() || !unfit(wider, scale, rules).empty()) break;
    if (tells_enough(window, scale, rules)) break;
    window = wider;
  }
  return window;
}

/// Says why the slope is not shown to lie within its limit, and how long that may last.
void explain_slope(const std::vector<DataPair>& pairs, double slope, double reach, const StabilityRules& rules,
                   StabilityVerdict& verdict) {
  const double limit = rules.slope_per_minute;
  if (std::abs(slope) > reach && std::abs(slope) >= limit) {
    verdict.waiting_for.push_back(fmt::format("the signal still {} {:.2g} %/min (at most {:.2g} %/min)",
                                              direction(slope), std::abs(slope) * 100.0, limit * 100.0));
    verdict.seconds_left = settling_seconds(pairs, slope, limit - reach);
    return;
  }
  verdict.waiting_for.push_back(
      fmt::format("the signal is not shown to be level: its slope is ({:.2g} ± {:.2g}) %/min, "
                  "and all of that must lie within ± {:.2g} %/min",
                  slope * 100.0, reach * 100.0, limit * 100.0));
  // The reach shrinks with the 3/2 power of the window: noise averages, and the lever grows.
  const double needed_s = verdict.evidence.seconds * std::pow(reach / (limit / 2.0), 2.0 / 3.0);
  if (needed_s > verdict.evidence.seconds && needed_s <= rules.seconds_max)
    verdict.seconds_left = needed_s - verdict.evidence.seconds;
}

/// The signal's own part of the verdict.
void judge_signal(std::span<const StabilitySample> window, SignalScale scale, const StabilityRules& rules,
                  StabilityVerdict& verdict) {
  const auto pairs = signal_of(window);
  const double reference_V = reference_of(pairs, scale, rules);
  const auto fit = compensation::fit_line(pairs);
  if (!fit) {
    verdict.waiting_for.push_back(fit.error().what);
    return;
  }
  auto& evidence = verdict.evidence;
  evidence.slope_per_minute = fit->slope / reference_V;
  evidence.u_slope_per_minute = fit->u_slope / reference_V;
  evidence.scatter = fit->residual_sd / reference_V;
  if (fit->residual_sd == 0.0 && fit->slope == 0.0)
    verdict.cautions.push_back(
        "every sample is the same: a frozen register or a coarse input would look just as steady");
  if (evidence.scatter >= rules.scatter)
    verdict.waiting_for.push_back(fmt::format("the signal scatters by {:.2g} % (at most {:.2g} %)",
                                              evidence.scatter * 100.0, rules.scatter * 100.0));
  const auto wide = compensation::widened_for_memory(*fit, pairs, rules.effective_samples_min);
  if (wide) {
    evidence.u_slope_per_minute = wide->u_slope / reference_V;
    verdict.effective_samples = wide->degrees_of_freedom + 2.0;
  } else {
    verdict.waiting_for.push_back(wide.error().what);
  }
  const auto reach_V = reach_of(wide ? *wide : *fit, pairs, scale, rules);
  if (!reach_V) {
    verdict.waiting_for.push_back(reach_V.error().what);
    return;
  }
  const double reach = *reach_V / reference_V;
  const double slope = evidence.slope_per_minute;
  if (!(std::abs(slope) + reach < rules.slope_per_minute)) explain_slope(pairs, slope, reach, rules, verdict);
}

void judge_temperature(std::span<const StabilitySample> window, const StabilityRules& rules,
                       StabilityVerdict& verdict) {
  const auto pairs = over_minutes(window, [](const auto& s) { return s.temperature_K; });
  if (pairs.empty()) {
    verdict.cautions.push_back("no thermometer: the temperature is not shown to be steady");
    return;
  }
  const auto fit = compensation::fit_line(pairs);
  if (!fit || pairs.size() * 2 < window.size()) {
    verdict.waiting_for.push_back(
        fmt::format("the temperature came with only {} of {} samples", pairs.size(), window.size()));
    return;
  }
  verdict.evidence.temperature_slope_K_per_minute = fit->slope;
  if (std::abs(fit->slope) < rules.temperature_K_per_minute) return;
  verdict.waiting_for.push_back(fmt::format("the temperature still {} {:.2g} K/min (at most {:.2g} K/min)",
                                            direction(fit->slope), std::abs(fit->slope),
                                            rules.temperature_K_per_minute));
}

} // namespace

StabilityVerdict judge_stability(std::span<const StabilitySample> samples, SignalScale scale,
                                 const StabilityRules& rules) {
  StabilityVerdict verdict;
  const auto window = window_of(samples, scale, rules);
  verdict.evidence.samples = static_cast<int>(window.size());
  if (window.empty()) {
    verdict.waiting_for.push_back("no sample yet");
    verdict.seconds_left = rules.seconds;
    return verdict;
  }
  if (auto reason = unfit(window, scale, rules); !reason.empty()) {
    verdict.waiting_for.push_back(std::move(reason));
    return verdict;
  }
  verdict.evidence.seconds = window.back().seconds - window.front().seconds;
  verdict.pressure_range_Pa = range_of(over_minutes(window, [](const auto& s) { return s.pressure_Pa; }));
  verdict.humidity_range = range_of(over_minutes(window, [](const auto& s) { return s.humidity; }));

  const bool too_short = verdict.evidence.seconds < rules.seconds;
  if (too_short)
    verdict.waiting_for.push_back(fmt::format("only {:.0f} s of {:.0f} s", verdict.evidence.seconds, rules.seconds));
  if (verdict.evidence.samples < rules.samples_min)
    verdict.waiting_for.push_back(
        fmt::format("only {} of {} samples: poll the cell more often", verdict.evidence.samples, rules.samples_min));
  judge_signal(window, scale, rules, verdict);
  judge_temperature(window, rules, verdict);
  if (too_short) // the rest of the window must pass in any case
    verdict.seconds_left = std::max(rules.seconds - verdict.evidence.seconds, verdict.seconds_left.value_or(0.0));
  verdict.evidence.stable = verdict.waiting_for.empty();
  return verdict;
}

} // namespace oxherd::daemon
