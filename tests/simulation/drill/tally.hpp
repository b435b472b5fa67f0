#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <vector>

#include "tests/simulation/drill/happening.hpp"

namespace oxherd::drill {

/// What one run, or many, came to.
struct Tally {
  double room_s = 0.0;      ///< time of rooms, the daemon running or not
  double down_room_s = 0.0; ///< of it, with no daemon to watch
  std::uint64_t runs = 0, polls = 0, evaluations = 0, restarts = 0, starts_refused = 0;
  std::array<std::uint64_t, kinds> befell{}; ///< by kind
  std::uint64_t low_spells = 0;              ///< times that a room truly was low for long enough to be announced
  std::uint64_t missed = 0;
  std::uint64_t true_alarms = 0;                        ///< announcements with a cause in the air
  std::map<std::string, std::uint64_t> alarms_by_fault; ///< announced without such a cause, by "alarm, fault"
  std::uint64_t without_cause = 0;
  /// Time in which a room was low, not announced, and could not be known to be: by why.
  std::map<std::string, double> unknowable_s;
  std::vector<float> detection_s; ///< from the crossing of the limit to the announcement; 0: it came before
  std::vector<float> of_deadline; ///< of those that came after it: the part that was used of the time permitted
  double processor_s = 0.0;       ///< that it cost
  double gas_room_s = 0.0;        ///< of rooms that a gas is let into
  std::map<std::string, std::uint64_t> gas;          ///< what was done and came of it there, by words
  std::map<std::string, std::uint64_t> measurements; ///< what became of them where they are kept, by words
  std::vector<float> shut_s;       ///< from when something needed no longer held to when a valve was told to shut
  std::vector<float> stuck_told_s; ///< from when a stuck valve could be known to when it was announced

  void add(const Tally& other);
};

inline constexpr double year_s = 365.25 * 86400.0;

/// For another process, and back.
[[nodiscard]] std::string to_lines(const Tally& tally);
[[nodiscard]] Tally tally_in(const std::string& lines);

[[nodiscard]] std::string report_text(const Tally& tally);
[[nodiscard]] std::string report_json(const Tally& tally);

} // namespace oxherd::drill
