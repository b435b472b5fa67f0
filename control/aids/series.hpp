#pragma once

#include <cstddef>
#include <optional>
#include <span>

#include "alarms/time.hpp"

namespace oxherd::control {

enum class SeriesFault { none, too_few, not_in_order, gap };

/// What is wrong with the times of a series, and after which sample.
struct SeriesCheck {
  SeriesFault fault = SeriesFault::none;
  std::size_t after = 0;
};

/// Looks at the times alone. A sample is anything with `at`.
template <class Sample>
[[nodiscard]] SeriesCheck check_times(std::span<const Sample> samples, int least, alarms::Monotonic gap_most) {
  if (samples.size() < static_cast<std::size_t>(least)) return {SeriesFault::too_few};
  for (std::size_t i = 1; i < samples.size(); ++i) {
    if (samples[i].at <= samples[i - 1].at) return {SeriesFault::not_in_order, i - 1};
    if (samples[i].at - samples[i - 1].at > gap_most) return {SeriesFault::gap, i - 1};
  }
  return {};
}

} // namespace oxherd::control
