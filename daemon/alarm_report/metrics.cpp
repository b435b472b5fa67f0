#include "daemon/alarm_report/metrics.hpp"

#include <algorithm>
#include <set>

#include "daemon/alarm_report/watched.hpp"

namespace oxherd::daemon::alarm_report {
namespace {

using alarms::seconds_of;
using std::chrono::milliseconds;

bool is_in(const Stretch& period, WallTime at) { return period.from <= at && at < period.to; }

std::optional<double> share_of(milliseconds part, milliseconds whole) {
  if (whole <= milliseconds{0}) return std::nullopt;
  return seconds_of(part) / seconds_of(whole);
}

void sum_up_load(Performance& out, const std::vector<Annunciation>& annunciations, std::span<const Stretch> watched) {
  std::vector<WallTime> times;
  for (const auto& a : annunciations) {
    if (lies_in(watched, a.at))
      times.push_back(a.at);
    else
      ++out.in_gaps;
  }
  std::ranges::sort(times); // a clock that was set back mixes them
  out.watched = overlap(watched, out.period);
  if (out.watched > milliseconds{0}) {
    out.per_hour = static_cast<double>(times.size()) * 3600.0 / seconds_of(out.watched);
    out.per_10_min = *out.per_hour / 6.0;
    out.per_day = *out.per_hour * 24.0;
  }
  out.most_in_minute = most_within(times, std::chrono::minutes{1});
  out.most_in_10_min = most_within(times, short_part);
  out.most_in_hour = most_within(times, long_part);
  const auto share = [&](std::size_t above, milliseconds part) {
    return share_of(time_with_more_than(above, part, times, out.period, watched), out.watched);
  };
  out.share_of_short_parts = share(short_part_most, short_part);
  out.share_of_long_parts = share(long_part_most, long_part);
  out.floods = floods_in(times, watched);
  milliseconds flooded{0};
  for (const auto& flood : out.floods) flooded += flood.time.to - flood.time.from;
  out.share_in_flood = share_of(flooded, out.watched);
}

void rank(Performance& out, const std::vector<Annunciation>& annunciations) {
  std::map<AlarmName, std::size_t> counts;
  for (const auto& a : annunciations) {
    ++counts[a.name];
    ++out.by_priority[static_cast<std::size_t>(a.priority)];
  }
  for (const auto& [name, count] : counts) out.most_frequent.push_back({name, count});
  std::ranges::stable_sort(out.most_frequent, std::greater{}, &Frequent::count); // names decide between equals
  if (out.most_frequent.size() > most_frequent_at_most) out.most_frequent.resize(most_frequent_at_most);
}

void find_stale(Performance& out, const std::vector<Stand>& stands) {
  std::map<std::int64_t, std::set<AlarmName>> by_day;
  for (const auto& stand : stands) {
    const WallTime from = std::max(stand.time.from + stale_after, out.period.from);
    const WallTime to = std::min(stand.time.to, out.period.to);
    if (from >= to) continue;
    out.stale.push_back(stand);
    constexpr milliseconds day = std::chrono::hours{24};
    const auto last = (to - milliseconds{1} - out.period.from) / day;
    for (auto number = (from - out.period.from) / day; number <= last; ++number) by_day[number].insert(stand.name);
  }
  for (const auto& [number, names] : by_day) out.stale_on_worst_day = std::max(out.stale_on_worst_day, names.size());
  std::ranges::sort(out.stale, {}, [](const Stand& s) { return std::pair{s.time.from, s.name}; });
}

AnswerTimes answer_times(const std::vector<Ending>& acknowledged, const Stretch& period) {
  std::vector<milliseconds> times;
  for (const auto& answer : acknowledged)
    if (is_in(period, answer.at)) times.push_back(answer.at - answer.annunciated);
  AnswerTimes out;
  out.count = times.size();
  if (times.empty()) return out;
  std::ranges::sort(times);
  const std::size_t middle = times.size() / 2;
  out.median = times.size() % 2 == 1 ? times[middle] : (times[middle - 1] + times[middle]) / 2;
  out.ninth_decile = times[(times.size() * 9 + 9) / 10 - 1];
  out.longest = times.back();
  return out;
}

void sum_up_people(Performance& out, const Happenings& found) {
  for (const auto& h : found.hidden) {
    const auto time = overlap(std::span{&out.period, 1}, h.time);
    if (time > milliseconds{0}) out.hidden[{h.how, h.author}].time += time;
  }
  for (const auto& deed : found.hidings) {
    if (!is_in(out.period, deed.at)) continue;
    const auto how = deed.act == "remove_from_service" ? alarms::State::out_of_service : alarms::State::shelved;
    ++out.hidden[{how, deed.author}].times;
  }
  for (const auto& test : found.tests)
    if (is_in(out.period, test.at)) ++out.tests[test.author];
  for (const auto& refusal : found.refusals)
    if (is_in(out.period, refusal.at)) ++out.refusals[refusal.act];
}

} // namespace

Performance performance(std::span<const AlarmRecord> records, Stretch period, std::span<const Stretch> watched) {
  const auto found = happenings_in(records, period.to);
  Performance out;
  out.period = period;
  out.gaps = gaps_between(watched, period);
  std::vector<Annunciation> real;
  for (const auto& a : found.annunciations) {
    if (!is_in(period, a.at)) continue;
    if (a.test)
      ++out.test_annunciations;
    else
      real.push_back(a);
  }
  out.annunciations = real.size();
  out.again = static_cast<std::size_t>(std::ranges::count_if(real, &Annunciation::again));
  sum_up_load(out, real, watched);
  rank(out, real);
  find_stale(out, found.stands);
  for (const auto& c : found.chatterings)
    if (is_in(period, c.at)) out.chatterings.push_back(c);
  for (const auto& f : found.fleeting)
    if (is_in(period, f.at)) out.fleeting.push_back(f);
  out.answers = answer_times(found.acknowledged, period);
  out.unanswered = static_cast<std::size_t>(
      std::ranges::count_if(found.unanswered, [&](const Ending& e) { return is_in(period, e.at); }));
  out.owed = found.owed;
  std::ranges::sort(out.owed, {}, [](const Beginning& b) { return std::pair{b.at, b.name}; });
  sum_up_people(out, found);
  const auto in_period = [&](WallTime at) { return is_in(period, at); };
  const std::set<WallTime> restarts(found.restarts.begin(), found.restarts.end()); // one record for each alarm
  out.restarts = static_cast<std::size_t>(std::ranges::count_if(restarts, in_period));
  out.set_back = static_cast<std::size_t>(std::ranges::count_if(found.set_back, in_period));
  return out;
}

} // namespace oxherd::daemon::alarm_report
