#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/alarm_report/metrics.hpp"

namespace oxherd::daemon::alarm_report {

enum class Verdict { within, beyond, too_little, unknown };
/// "within", "beyond", "too little to tell", "not known".
[[nodiscard]] std::string_view name_of(Verdict verdict);

/// One figure beside what is recommended for it.
struct Figure {
  std::string_view key;   ///< in JSON
  std::string_view title; ///< for a person
  std::optional<double> value;
  bool is_share = false; ///< a ratio that a person reads as percent
  std::string_view target, source;
  Verdict verdict = Verdict::unknown;
};

/// A share is judged from so many annunciations on: of fewer, a single one is more than the 5 % that are recommended.
/// Proposal of the project.
inline constexpr std::size_t judged_from = 20;
// An average is judged when at least the time that it speaks of was watched, for the same reason.

/// The figures for which a recommendation is published, in the order of a report.
/// @source EEMUA 191 by its published summary of key figures: averages, peaks, distribution of priorities. ISA-18.2
///         clause 16, from memory: shares of time, floods, stale, chattering and fleeting alarms, the ten most
///         frequent, alarms a day. Critical alarms under 1 %: common practice, no source.
[[nodiscard]] std::vector<Figure> figures_of(const Performance& p);

} // namespace oxherd::daemon::alarm_report
