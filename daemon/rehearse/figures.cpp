#include "daemon/rehearse/figures.hpp"

#include <algorithm>

namespace oxherd::daemon::rehearse {
namespace {

using alarms::State;

bool is_present(State state) { return state == State::unacknowledged || state == State::acknowledged; }

std::vector<Occurrence> occurrences_in(std::span<const AlarmRecord> journal, const AlarmName& name, WallTime end) {
  std::vector<Occurrence> all;
  bool present = false;
  for (const auto& record : journal) {
    if (record.room != name.room || record.alarm != name.alarm) continue;
    const bool now = is_present(record.to);
    if (now && !present) all.push_back({{record.at, end}, false});
    if (!now && present) all.back() = {{all.back().time.from, record.at}, true};
    present = now;
  }
  return all;
}

} // namespace

std::vector<AlarmFigures> figures_of(std::span<const AlarmRecord> journal, std::span<const AlarmName> names,
                                     WallTime end) {
  std::vector<AlarmFigures> all;
  for (const auto& name : names) {
    AlarmFigures figures;
    figures.name = name;
    figures.occurrences = occurrences_in(journal, name, end);
    for (const auto& one : figures.occurrences) {
      const auto length = one.time.to - one.time.from;
      figures.in_alarm += length;
      figures.longest = std::max<std::chrono::milliseconds>(figures.longest, length);
    }
    all.push_back(std::move(figures));
  }
  // The end itself belongs to the rehearsal: an alarm that comes with the last sample counts.
  const auto happened = alarm_report::happenings_in(journal, end + std::chrono::milliseconds{1});
  for (auto& figures : all) {
    const auto is_of = [&](const auto& one) { return one.name == figures.name; };
    std::vector<WallTime> times;
    for (const auto& one : happened.annunciations)
      if (is_of(one)) times.push_back(one.at);
    const auto again = std::count_if(happened.annunciations.begin(), happened.annunciations.end(),
                                     [&](const auto& one) { return is_of(one) && one.again; });
    figures.re_annunciations = static_cast<std::size_t>(again);
    figures.fleeting =
        static_cast<std::size_t>(std::count_if(happened.fleeting.begin(), happened.fleeting.end(), is_of));
    figures.chatterings =
        static_cast<std::size_t>(std::count_if(happened.chatterings.begin(), happened.chatterings.end(), is_of));
    figures.most_in_10_min = alarm_report::most_within(times, alarm_report::flood_window);
  }
  return all;
}

std::vector<Pair> matched(const AlarmName& name, std::span<const Occurrence> first,
                          std::span<const Occurrence> second) {
  std::vector<Pair> pairs;
  std::size_t i = 0, j = 0;
  while (i < first.size() || j < second.size()) {
    if (j == second.size() || (i < first.size() && first[i].time.to < second[j].time.from)) {
      pairs.push_back({name, first[i++], std::nullopt});
    } else if (i == first.size() || second[j].time.to < first[i].time.from) {
      pairs.push_back({name, std::nullopt, second[j++]});
    } else {
      pairs.push_back({name, first[i++], second[j++]});
    }
  }
  return pairs;
}

} // namespace oxherd::daemon::rehearse
