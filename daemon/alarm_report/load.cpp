#include "daemon/alarm_report/load.hpp"

#include <algorithm>
#include <map>

#include "daemon/alarm_report/watched.hpp"

namespace oxherd::daemon::alarm_report {
namespace {

/// The flood that the annunciation at `start` begins, which is the last of those that make it one.
Flood flood_from(std::span<const WallTime> times, std::size_t start) {
  // Fewer than five are left in the window once the fifth to last of those so far is ten minutes old, unless the next
  // one comes that very moment.
  std::size_t last = start;
  while (last + 1 < times.size() && times[last + 1] <= times[last + 1 - flood_ends_below] + flood_window) ++last;
  return {{times[start], times[last + 1 - flood_ends_below] + flood_window}, last - start + flood_begins_above + 1};
}

} // namespace

std::vector<Flood> floods_in(std::span<const WallTime> times, std::span<const Stretch> watched) {
  std::vector<Flood> floods;
  for (const auto& stretch : watched) {
    const auto first = std::ranges::lower_bound(times, stretch.from);
    const auto last = std::ranges::lower_bound(times, stretch.to);
    const std::span<const WallTime> seen{first, last};
    for (std::size_t i = flood_begins_above; i < seen.size(); ++i) {
      if (seen[i] - seen[i - flood_begins_above] >= flood_window) continue;
      auto flood = flood_from(seen, i);
      i += flood.annunciations - flood_begins_above - 1; // on to the last of its own
      flood.time.to = std::min(flood.time.to, stretch.to);
      floods.push_back(flood);
    }
  }
  return floods;
}

std::size_t most_within(std::span<const WallTime> times, std::chrono::milliseconds length) {
  std::size_t most = 0;
  std::size_t first = 0;
  for (std::size_t i = 0; i < times.size(); ++i) {
    while (times[i] - times[first] >= length) ++first;
    most = std::max(most, i - first + 1);
  }
  return most;
}

std::chrono::milliseconds time_with_more_than(std::size_t above, std::chrono::milliseconds part,
                                              std::span<const WallTime> times, Stretch period,
                                              std::span<const Stretch> watched) {
  std::map<std::int64_t, std::size_t> counts;
  for (const auto at : times) ++counts[(at - period.from) / part];
  std::chrono::milliseconds sum{0};
  for (const auto& [number, count] : counts) {
    if (count <= above) continue;
    const auto from = period.from + number * part;
    sum += overlap(watched, {from, std::min<WallTime>(from + part, period.to)});
  }
  return sum;
}

} // namespace oxherd::daemon::alarm_report
