#include <algorithm>
#include <numeric>
#include <random>

#include <gtest/gtest.h>

#include <fmt/core.h>
#include <rapidcheck/gtest.h>

#include "alarms/alarm.hpp"
#include "daemon/alarm_report/figures.hpp"
#include "daemon/alarm_report/watched.hpp"
#include "tests/daemon/alarm_report/journal_fixture.hpp"

namespace oxherd::daemon::alarm_report_test {
namespace report_properties {

using namespace alarm_report;
using std::chrono::milliseconds;
using std::chrono::seconds;

/// A journal as the alarms themselves write it: three of them, evaluated and acted upon at random by the real state
/// machine.
std::vector<AlarmRecord> lived_journal(std::uint64_t seed, int steps) {
  std::mt19937_64 random{seed};
  const auto below = [&](std::uint64_t n) { return static_cast<int>(random() % n); };
  struct One {
    std::string name;
    alarms::Alarm alarm;
    alarms::AlarmState state;
  };
  std::vector<One> all;
  for (int i = 0; i < 3; ++i) {
    alarms::Alarm alarm{};
    alarm.rule = alarms::Limit{alarms::Direction::low, 0.195, 0.002};
    alarm.annunciation.priority = static_cast<alarms::Priority>(i + 1);
    alarm.annunciation.safety = alarm.annunciation.latching = i == 2;
    alarm.annunciation.reannounce_after = std::chrono::minutes{15};
    all.push_back({std::string(1, static_cast<char>('a' + i)), alarm, alarms::initial(alarm, seconds{0})});
  }
  std::vector<AlarmRecord> records;
  alarms::Monotonic now{0};
  const auto add = [&](const One& one, const char* event, alarms::Transition t, const char* author = "") {
    AlarmRecord record;
    record.at = monday + now;
    record.sequence = static_cast<std::int64_t>(records.size()) + 1;
    record.room = "bay-3";
    record.alarm = one.name;
    record.event = event;
    record.from = t.from;
    record.to = t.to;
    record.cause = std::string_view{event}.starts_with("transition") ? std::string{alarms::name_of(t.cause)} : event;
    record.author = author;
    record.priority = one.alarm.annunciation.priority;
    records.push_back(record);
  };
  constexpr alarms::Act acts[] = {alarms::Act::acknowledge, alarms::Act::acknowledge,         alarms::Act::reset,
                                  alarms::Act::shelve,      alarms::Act::remove_from_service, alarms::Act::unshelve,
                                  alarms::Act::test,        alarms::Act::return_to_service};
  for (int i = 0; i < steps; ++i) {
    now += seconds{1 + (below(4) == 0 ? below(7200) : below(90))};
    One& one = all[static_cast<std::size_t>(below(3))];
    if (below(3) == 0) {
      const auto act = acts[below(std::size(acts))];
      const auto before = alarms::shown(one.state.standing);
      const auto done = alarms::act(one.alarm, one.state, {act, std::chrono::minutes{5}, "trial"}, now);
      if (done) one.state = done->state;
      const std::string event = std::string{alarms::name_of(act)} + (done ? "" : "-refused");
      add(one, event.c_str(), {before, alarms::shown(one.state.standing), {}}, below(2) == 0 ? "A. Lind" : "B. Noor");
    }
    const alarms::Channel channel{alarms::Quality::good, below(2) == 0 ? 0.18 : 0.209, 0.001};
    alarms::RuleInput in;
    in.channels = {&channel, 1};
    in.new_sample = true;
    const auto step = alarms::evaluate(one.alarm, one.state, in, now);
    one.state = step.state;
    for (const auto& t : step.transitions) add(one, "transition", t);
    for (const auto& t : step.beneath) add(one, "transition-suppressed", t);
  }
  return records;
}

WallTime end_of(const std::vector<AlarmRecord>& records) { return records.back().at + seconds{1}; }

Performance over(const std::vector<AlarmRecord>& records, WallTime from, WallTime to) {
  const std::vector watched{Stretch{from, to}};
  return performance(records, {from, to}, watched);
}

/// Everything that a person is told, in one text, so that reports can be compared whole.
std::string as_text(const Performance& p) {
  std::string out = fmt::format("{} {} {} {} {} {} {} {}\n", p.annunciations, p.again, p.most_in_10_min, p.most_in_hour,
                                p.floods.size(), p.unanswered, p.test_annunciations, p.restarts);
  for (const auto& f : figures_of(p)) out += fmt::format("{} {}\n", f.key, f.value.value_or(-1));
  for (const auto& f : p.most_frequent) out += fmt::format("{} {}\n", f.name.alarm, f.count);
  for (const auto& s : p.stale) out += fmt::format("{} {}\n", s.name.alarm, rfc3339(s.time.to));
  for (const auto& o : p.owed) out += fmt::format("{} {}\n", o.name.alarm, rfc3339(o.at));
  for (const auto& [key, sum] : p.hidden)
    out += fmt::format("{} {} {} {}\n", alarms::name_of(key.first), key.second, sum.times, sum.time.count());
  for (const auto& [act, n] : p.refusals) out += fmt::format("{} {}\n", act, n);
  out += fmt::format("{} {} {}", p.answers.count, p.answers.median.count(), p.answers.longest.count());
  return out;
}

RC_GTEST_PROP(AlarmReport, DoesNotDependOnTheOrderOfTheRecords, (std::uint64_t seed)) {
  auto records = lived_journal(seed, 200);
  RC_PRE(!records.empty());
  const auto end = end_of(records);
  const auto before = as_text(over(records, monday, end));
  std::ranges::shuffle(records, std::mt19937_64{seed});
  RC_ASSERT(as_text(over(records, monday, end)) == before);
}

RC_GTEST_PROP(AlarmReport, HasTotalsThatAgreeWithItsCounts, (std::uint64_t seed)) {
  const auto records = lived_journal(seed, 300);
  RC_PRE(!records.empty());
  const auto p = over(records, monday, end_of(records));
  const auto sum = [](const auto& items, auto&& part) {
    return std::accumulate(items.begin(), items.end(), std::size_t{0},
                           [&](std::size_t s, const auto& item) { return s + part(item); });
  };
  RC_ASSERT(sum(p.by_priority, [](std::size_t n) { return n; }) == p.annunciations);
  RC_ASSERT(sum(p.most_frequent, [](const Frequent& f) { return f.count; }) == p.annunciations); // three alarms only
  RC_ASSERT(p.most_in_minute <= p.most_in_10_min);
  RC_ASSERT(p.most_in_10_min <= p.most_in_hour);
  RC_ASSERT(p.most_in_hour <= p.annunciations);
  RC_ASSERT(p.answers.median <= p.answers.ninth_decile);
  RC_ASSERT(p.answers.ninth_decile <= p.answers.longest);
  RC_ASSERT(p.fleeting.size() + p.again <= p.annunciations);
  // Every owed acknowledgement began with an annunciation, and came to exactly one end.
  RC_ASSERT(p.answers.count + p.unanswered + p.owed.size() <= p.annunciations);
  const auto refused = std::ranges::count_if(records, [](const auto& r) { return r.event.ends_with("-refused"); });
  RC_ASSERT(sum(p.refusals, [](const auto& r) { return r.second; }) == static_cast<std::size_t>(refused));
  const auto hours_possible = 3 * (p.period.to - p.period.from);
  milliseconds hidden{0};
  for (const auto& [key, h] : p.hidden) hidden += h.time;
  RC_ASSERT(hidden <= hours_possible);
}

RC_GTEST_PROP(AlarmReport, AddsUpOverThePartsOfItsPeriod, (std::uint64_t seed)) {
  const auto records = lived_journal(seed, 300);
  RC_PRE(!records.empty());
  const auto end = end_of(records);
  // On the grid of ten minutes and hours, so that these parts are the same ones, too.
  const auto hours_long = (end - monday) / std::chrono::hours{1};
  const WallTime middle = monday + std::chrono::hours{*rc::gen::inRange<long>(0, std::max<long>(1, hours_long))};
  RC_PRE(middle > monday);
  const auto all = over(records, monday, end);
  const auto first = over(records, monday, middle);
  const auto second = over(records, middle, end);
  RC_ASSERT(first.annunciations + second.annunciations == all.annunciations);
  RC_ASSERT(first.again + second.again == all.again);
  RC_ASSERT(first.answers.count + second.answers.count == all.answers.count);
  RC_ASSERT(first.unanswered + second.unanswered == all.unanswered);
  RC_ASSERT(first.fleeting.size() + second.fleeting.size() == all.fleeting.size());
  RC_ASSERT(first.test_annunciations + second.test_annunciations == all.test_annunciations);
  RC_ASSERT(std::max(first.answers.longest, second.answers.longest) == all.answers.longest);
  RC_ASSERT(second.owed.size() == all.owed.size());
  RC_ASSERT(first.watched + second.watched == all.watched);
  RC_ASSERT(std::max(first.most_in_10_min, second.most_in_10_min) <= all.most_in_10_min);
  for (std::size_t i = 0; i < 4; ++i) RC_ASSERT(first.by_priority[i] + second.by_priority[i] == all.by_priority[i]);
  auto hidden = first.hidden;
  for (const auto& [key, sum] : second.hidden) {
    hidden[key].times += sum.times;
    hidden[key].time += sum.time;
  }
  RC_ASSERT(hidden.size() == all.hidden.size());
  for (const auto& [key, sum] : all.hidden) {
    RC_ASSERT(hidden.at(key).times == sum.times);
    RC_ASSERT(hidden.at(key).time == sum.time);
  }
  const auto time_beyond = [](const Performance& p) {
    return p.share_of_short_parts.value_or(0) * static_cast<double>(p.watched.count());
  };
  RC_ASSERT(std::abs(time_beyond(first) + time_beyond(second) - time_beyond(all)) < 1.0); // milliseconds
}

// The slow way: the count of the last ten minutes looked up anew each second.
RC_GTEST_PROP(Flood, LastsFromAboveTenToBelowFiveSecondBySecond, ()) {
  const auto gaps = *rc::gen::container<std::vector<int>>(60, rc::gen::inRange(1, 200));
  std::vector<WallTime> times;
  WallTime at = monday;
  for (const int gap : gaps) times.push_back(at += seconds{gap});
  const Stretch period{monday, at + std::chrono::hours{1}};
  const std::vector watched{period};
  std::vector<Stretch> expected;
  bool flooded = false;
  for (WallTime t = period.from; t < period.to; t += seconds{1}) {
    const auto n = static_cast<std::size_t>(
        std::ranges::count_if(times, [&](WallTime a) { return a <= t && t - a < flood_window; }));
    if (!flooded && n > 10) expected.push_back({t, period.to});
    if (flooded && n < 5) expected.back().to = t;
    flooded = flooded ? n >= 5 : n > 10;
  }
  std::vector<Stretch> found;
  for (const auto& flood : floods_in(times, watched)) found.push_back(flood.time);
  RC_ASSERT(found == expected);
}

} // namespace report_properties
} // namespace oxherd::daemon::alarm_report_test
