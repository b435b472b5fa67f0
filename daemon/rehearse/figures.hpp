#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <vector>

#include "daemon/alarm_report/load.hpp"

namespace oxherd::daemon::rehearse {

using alarm_report::AlarmName;
using alarm_report::Stretch;

/// One time that the condition of an alarm stood, from its annunciation to its return.
struct Occurrence {
  Stretch time;
  bool ended = true; ///< false: it stood at the end of the data
  friend bool operator==(const Occurrence&, const Occurrence&) = default;
};

/// How one alarm would have performed.
struct AlarmFigures {
  AlarmName name;
  std::vector<Occurrence> occurrences; ///< in order; each began with an annunciation
  std::size_t re_annunciations = 0;    ///< an acknowledged alarm still stood
  std::size_t fleeting = 0;            ///< gone within 60 s, not acknowledged: as in alarm-report
  std::size_t chatterings = 0;         ///< times that chattering began
  std::chrono::milliseconds in_alarm{0}, longest{0};
  std::size_t most_in_10_min = 0; ///< annunciations, re-annunciations among them
};

/// @param journal  in order; of a rehearsal, so without suppressions and tests
/// @param names    of the alarms to tell of, those without any record too
[[nodiscard]] std::vector<AlarmFigures> figures_of(std::span<const AlarmRecord> journal,
                                                   std::span<const AlarmName> names, WallTime end);

/// One occurrence under two sets of rules; absent where one of them has none.
struct Pair {
  AlarmName name;
  std::optional<Occurrence> first, second;
};
/// Matches the occurrences of one alarm that overlap in time, each at most once, in order.
[[nodiscard]] std::vector<Pair> matched(const AlarmName& name, std::span<const Occurrence> first,
                                        std::span<const Occurrence> second);

} // namespace oxherd::daemon::rehearse
