#pragma once

#include <cstdint>
#include <optional>
#include <vector>

#include "alarms/rules/limit.hpp"

namespace oxherd::alarms {

/// The average of the standing value over a time, weighted by time, beyond a limit. Exposure limits are written for
/// 8 h and 15 min.
struct TimeAverage {
  Limit limit{.direction = Direction::high};
  Monotonic over{std::chrono::hours{8}}; ///< at least 1 min
};

/// Buckets of a window: one minute each of 8 h.
inline constexpr int average_buckets = 480;
/// The part of the window that must be known before there is an average; the alarm of a single high value is another.
inline constexpr double average_known_min = 1.0 / 8.0;

/// Values summed over a slice of time; integrals are in the value's unit times seconds.
struct AverageBucket {
  std::int64_t number = -1; ///< how many bucket widths since the start of time; another than looked for: an old one
  double known_s = 0.0;
  double gap_s = 0.0; ///< the part of known_s that lies in the gap that still lasts
  double value_s = 0.0;
  double expanded_s = 0.0;
  friend bool operator==(const AverageBucket&, const AverageBucket&) = default;
};

struct TimeAverageState : LimitState {
  std::vector<AverageBucket> buckets{}; ///< a ring; empty before the first good value
  Monotonic until{0};                   ///< summed so far
  std::optional<Channel> held{};        ///< the last good standing value
  bool in_gap = false;
  friend bool operator==(const TimeAverageState&, const TimeAverageState&) = default;
};

/// One step. Each value counts until the next one. A gap without good data counts at the worse of the values on both of
/// its sides, while it lasts at the one before it; it may bring the alarm, and never ends it. Time before the first
/// good value counts as the average since, so that a new start neither dilutes an exposure nor invents one; but there
/// is no average until an eighth of the window is known, and until then the decision is held. The expanded uncertainty
/// is averaged likewise: errors of a cell last, and averaging does not make them smaller.
/// @source  29 CFR 1910.1000(d)(1)(i) for the average over a full window
/// @checked tests/alarms/time_average_test.cpp, with the example of the same paragraph
[[nodiscard]] Step<TimeAverageState> next(const TimeAverage& rule, TimeAverageState state, const RuleInput& in,
                                          Monotonic now);
/// What was summed is not recorded: after a restart the window fills anew, and a present condition stays meanwhile.
[[nodiscard]] TimeAverageState restored(const TimeAverage& rule, bool was_present, Monotonic now);
[[nodiscard]] Delays delays_of(const TimeAverage& rule);
[[nodiscard]] std::optional<Channel> value_of(const TimeAverage& rule, const TimeAverageState& state,
                                              const RuleInput& in); ///< the average up to the last evaluation
[[nodiscard]] std::optional<double> limit_of(const TimeAverage& rule);

} // namespace oxherd::alarms
