#pragma once

#include <compare>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "daemon/records.hpp"

namespace oxherd::daemon::alarm_report {

/// A stretch of civil time; `from` belongs to it and `to` does not, so that stretches laid end to end add up.
struct Stretch {
  WallTime from, to;
  friend bool operator==(const Stretch&, const Stretch&) = default;
};

struct AlarmName {
  std::string room, alarm;
  friend auto operator<=>(const AlarmName&, const AlarmName&) = default;
};

/// An alarm asked for a person: it became `unacknowledged`, or came out of a suppression as `latched_unacknowledged`,
/// which sounds as well.
struct Annunciation {
  AlarmName name;
  WallTime at;
  alarms::Priority priority = alarms::Priority::high;
  bool again = false; ///< re-annunciation of an alarm that was acknowledged and still stood
  bool test = false;  ///< a person simulated it; no load on anybody
};

/// The end of an annunciation, in one way or another.
struct Ending {
  AlarmName name;
  WallTime annunciated, at;
};

/// When something about an alarm began.
struct Beginning {
  AlarmName name;
  WallTime at;
};

/// An unbroken time in which an alarm stood: shown as anything but normal, and not hidden by a suppression.
struct Stand {
  AlarmName name;
  Stretch time;
  bool ended = false; ///< false: it stood at the end of what was looked at
};

/// A time in which an alarm was hidden.
struct Hidden {
  AlarmName name;
  alarms::State how = alarms::State::shelved; ///< shelved, suppressed_by_design or out_of_service: what was shown
  std::string author;                         ///< who did it; empty when the records do not tell
  Stretch time;
};

/// What a person did, or tried to do, to an alarm.
struct Deed {
  AlarmName name;
  WallTime at;
  std::string act, author;
};

/// What the journal tells, put together alarm by alarm. Times are as recorded; an end before its start, which a clock
/// that was set back leaves, counts as its start.
struct Happenings {
  std::vector<Annunciation> annunciations;
  std::vector<Ending> acknowledged; ///< from the first annunciation nobody had answered to the acknowledgement
  std::vector<Ending> fleeting; ///< the condition went within `fleeting_at_most` of its annunciation, not acknowledged
  std::vector<Ending> unanswered; ///< hidden before anybody acknowledged, or gone where nobody has to
  std::vector<Beginning> owed;    ///< annunciated, and not acknowledged at the end
  std::vector<Stand> stands;
  std::vector<Hidden> hidden;
  std::vector<Deed> hidings;          ///< shelving and removal from service that were accepted
  std::vector<Deed> tests;            ///< tests that were begun
  std::vector<Deed> refusals;         ///< acts that were refused; `act` without its "-refused"
  std::vector<Beginning> chatterings; ///< the third occurrence within 60 s, as the daemon recorded it
  std::vector<WallTime> restarts;     ///< found alarms standing; a restart that found none leaves no record
  std::vector<WallTime> set_back;     ///< records older than the one before them: the clock was set back
};

/// No published figure: the trade calls an alarm fleeting that comes and goes by itself before anyone could act.
/// Proposal of the project, the same minute in which a third occurrence makes an alarm chattering.
inline constexpr std::chrono::seconds fleeting_at_most{60};

/// Reads the journal up to `end`, which does not belong to it. The order of the records does not matter: their sequence
/// numbers count. Records from before the time of interest tell what stood at its start; without them an alarm counts
/// as standing or hidden from its first record on.
[[nodiscard]] Happenings happenings_in(std::span<const AlarmRecord> records, WallTime end);

} // namespace oxherd::daemon::alarm_report
