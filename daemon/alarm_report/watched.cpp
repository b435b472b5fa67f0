#include "daemon/alarm_report/watched.hpp"

#include <algorithm>

namespace oxherd::daemon::alarm_report {
namespace {

using std::chrono::milliseconds;
using std::chrono::minutes;

/// Joins stretches that are in order of their starts and closer than a gap.
std::vector<Stretch> joined(const std::vector<Stretch>& ordered) {
  std::vector<Stretch> out;
  for (const auto& next : ordered) {
    if (out.empty() || next.from - out.back().to >= unwatched_at_least)
      out.push_back(next);
    else
      out.back().to = std::max(out.back().to, next.to);
  }
  return out;
}

/// The stretch that ends at or after a time, if there is one.
auto ending_after(std::span<const Stretch> stretches, WallTime at) {
  return std::ranges::lower_bound(stretches, at, {}, &Stretch::to);
}

bool is_near(std::span<const Stretch> stretches, WallTime at) {
  const auto next = ending_after(stretches, at - unwatched_at_least);
  return next != stretches.end() && next->from - at < unwatched_at_least && at - next->to < unwatched_at_least;
}

} // namespace

std::vector<Stretch> watched_stretches(std::span<const std::int64_t> minutes_recorded,
                                       std::span<const AlarmRecord> records, Stretch period) {
  std::vector<Stretch> all;
  for (const auto minute : minutes_recorded) {
    const WallTime start{minutes{minute}};
    const Stretch clipped{std::max(start, period.from), std::min<WallTime>(start + minutes{1}, period.to)};
    if (clipped.from < clipped.to) all.push_back(clipped);
  }
  const auto of_readings = joined(all);
  for (const auto& record : records)
    if (record.at >= period.from && record.at < period.to && is_near(of_readings, record.at))
      all.push_back({record.at, record.at + milliseconds{1}});
  std::ranges::sort(all, {}, &Stretch::from);
  auto out = joined(all);
  if (out.empty()) return out;
  if (out.front().from - period.from < unwatched_at_least) out.front().from = period.from;
  if (period.to - out.back().to < unwatched_at_least) out.back().to = period.to;
  return out;
}

std::vector<Stretch> gaps_between(std::span<const Stretch> watched, Stretch period) {
  std::vector<Stretch> gaps;
  WallTime at = period.from;
  for (const auto& stretch : watched) {
    if (stretch.from > at) gaps.push_back({at, stretch.from});
    at = std::max(at, stretch.to);
  }
  if (at < period.to) gaps.push_back({at, period.to});
  return gaps;
}

milliseconds overlap(std::span<const Stretch> stretches, Stretch time) {
  milliseconds sum{0};
  for (auto s = ending_after(stretches, time.from); s != stretches.end() && s->from < time.to; ++s)
    sum += std::max(milliseconds{0}, std::min(s->to, time.to) - std::max(s->from, time.from));
  return sum;
}

bool lies_in(std::span<const Stretch> stretches, WallTime at) {
  return overlap(stretches, {at, at + milliseconds{1}}) > milliseconds{0};
}

} // namespace oxherd::daemon::alarm_report
