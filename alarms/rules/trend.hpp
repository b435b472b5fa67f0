#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "alarms/rules/rule_input.hpp"
#include "alarms/rules/standing_value.hpp"
#include "alarms/time.hpp"

namespace oxherd::alarms {

/// How fast a value changes, per minute, in its own unit.
struct Slope {
  double per_minute = 0.0; ///< median of the slopes of all pairs of samples
  /// Half width of its interval, on the wider side: `expanded` for a coverage factor of 2, `at_99` for 99 %. Infinite
  /// when the samples are too few for an interval: fewer than 6 and 7.
  double expanded = 0.0, at_99 = 0.0;
  friend bool operator==(const Slope&, const Slope&) = default;
};

struct TimedValue {
  Monotonic at{0};
  double value = 0.0;
  friend bool operator==(const TimedValue&, const TimedValue&) = default;
};

/// Samples of a window are thinned to this many; two more may lie on its edges.
inline constexpr int trend_samples_max = 120;

/// The Theil-Sen slope and its interval from Kendall's statistic; robust, so that a door slam of a few samples moves
/// it little. It takes the scatter of the samples for independent. Errors that stay the same over the samples, which
/// most of the uncertainty of a value is, cancel in it and are not in its interval.
/// @param samples  in order of time, no two at the same time, at most trend_samples_max + 2; empty result below two
/// @source  P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379; the ranks as in R. O. Gilbert, Statistical Methods for
///          Environmental Pollution Monitoring (1987), 16.5.2 (both from memory), rounded outwards; ties in the values
///          are taken as none, which widens the interval
/// @checked tests/alarms/trend_test.cpp: straight lines, outliers, and the share of intervals that hold the truth
[[nodiscard]] std::optional<Slope> slope_of(std::span<const TimedValue> samples);

/// The course of the standing value over one window of good samples.
struct Trend {
  std::vector<TimedValue> samples;
  unsigned usable = 0;        ///< the channels that the samples stand for, one bit each
  std::optional<Slope> slope; ///< none while the window fills
  friend bool operator==(const Trend&, const Trend&) = default;
};

/// Takes the standing value in, if it is a sample not taken before. The window begins anew after a calibration, when
/// no channel is usable, and when other channels are usable than before, since these may differ for long.
/// @param window  at least 1 s
void follow(Trend& trend, const RuleInput& in, Direction unfavourable, Monotonic window);

} // namespace oxherd::alarms
