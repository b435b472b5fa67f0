#pragma once

#include <array>
#include <chrono>
#include <cstddef>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "daemon/alarm_report/load.hpp"

namespace oxherd::daemon::alarm_report {

/// An alarm that stands so long without a break is stale. @source ISA-18.2 clause 16, from memory
inline constexpr std::chrono::hours stale_after{24};
/// The parts of a period that the two standards judge, and what is too many in one. @source as above
inline constexpr std::chrono::minutes short_part{10};
inline constexpr std::chrono::hours long_part{1};
inline constexpr std::size_t short_part_most = 10, long_part_most = 30;
/// How many alarms make "the most frequent". @source ISA-18.2 clause 16, from memory
inline constexpr std::size_t most_frequent_at_most = 10;

struct Frequent {
  AlarmName name;
  std::size_t count = 0;
};

/// Times to acknowledge: the middle one, the one that nine in ten do not exceed (nearest rank), and the longest.
struct AnswerTimes {
  std::size_t count = 0;
  std::chrono::milliseconds median{0}, ninth_decile{0}, longest{0};
};

struct HiddenSum {
  std::size_t times = 0;             ///< how often it was done in the period
  std::chrono::milliseconds time{0}; ///< in the period, over all alarms
};

/// How the alarm system worked in one period. What begins counts where it begins (annunciations, floods, tests); what
/// ends counts where it ends (acknowledgements, fleeting alarms), so that the counts of periods laid end to end add up.
struct Performance {
  Stretch period;
  std::vector<Stretch> gaps;            ///< no readings were recorded: the daemon did not run, or recorded nothing
  std::chrono::milliseconds watched{0}; ///< the rest of the period
  std::size_t restarts = 0;             ///< that found alarms standing
  std::size_t set_back = 0;             ///< times that the clock was set back

  std::size_t annunciations = 0; ///< without tests
  std::size_t again = 0;         ///< of these, re-annunciations
  std::size_t in_gaps = 0;       ///< of these, in gaps: not in any rate, since the time they fell into is not known
  std::optional<double> per_10_min, per_hour, per_day; ///< of watched time; empty when nothing was watched
  std::size_t most_in_10_min = 0, most_in_hour = 0, most_in_minute = 0;
  std::optional<double> share_of_short_parts, share_of_long_parts; ///< of watched time, in parts with too many
  std::vector<Flood> floods;
  std::optional<double> share_in_flood; ///< of watched time

  std::vector<Stand> stale;           ///< stood for longer than `stale_after` at some time of the period
  std::size_t stale_on_worst_day = 0; ///< different alarms; days of 24 h from the start of the period
  std::vector<Beginning> chatterings;
  std::vector<Ending> fleeting;
  std::vector<Frequent> most_frequent;      ///< the most frequent first, at most ten
  std::array<std::size_t, 4> by_priority{}; ///< annunciations, by alarms::Priority
  AnswerTimes answers;
  std::size_t unanswered = 0;  ///< hidden before anybody acknowledged, or gone where nobody has to
  std::vector<Beginning> owed; ///< not acknowledged at the end of the period, the oldest first
  std::map<std::pair<alarms::State, std::string>, HiddenSum> hidden; ///< by how and by whom
  std::map<std::string, std::size_t> tests;                          ///< begun, by whom
  std::size_t test_annunciations = 0;
  std::map<std::string, std::size_t> refusals; ///< by act
};

/// @param records  the journal of the period and, of what stood at its start, from where it was last normal; in any
///                 order; what lies after the period does not matter
/// @param watched  stretches of the period in which the daemon recorded readings, in order
[[nodiscard]] Performance performance(std::span<const AlarmRecord> records, Stretch period,
                                      std::span<const Stretch> watched);

} // namespace oxherd::daemon::alarm_report
