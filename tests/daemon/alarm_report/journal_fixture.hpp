#pragma once

#include <cmath>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/alarm_report/metrics.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::alarm_report_test {

using alarms::State;

/// A Monday of the invented site.
inline const WallTime monday = parse_rfc3339("2026-03-02T00:00:00Z").value();

inline WallTime after(double seconds) { return monday + std::chrono::milliseconds{std::llround(seconds * 1e3)}; }

/// A journal written by hand, line after line.
class JournalPage {
public:
  JournalPage& of(std::string room, std::string alarm, alarms::Priority priority = alarms::Priority::high) {
    room_ = std::move(room);
    alarm_ = std::move(alarm);
    priority_ = priority;
    return *this;
  }
  JournalPage& line(double at_s, std::string event, State from, State to, std::string cause, std::string author = "") {
    AlarmRecord record;
    record.at = after(at_s);
    record.sequence = static_cast<std::int64_t>(records.size()) + 1;
    record.room = room_;
    record.alarm = alarm_;
    record.priority = priority_;
    record.event = std::move(event);
    record.from = from;
    record.to = to;
    record.cause = std::move(cause);
    record.author = std::move(author);
    records.push_back(std::move(record));
    return *this;
  }
  JournalPage& comes(double at_s, State from = State::normal) {
    return line(at_s, "transition", from, State::unacknowledged, "condition");
  }
  JournalPage& goes(double at_s, State from = State::unacknowledged) {
    return line(at_s, "transition", from,
                from == State::unacknowledged ? State::returned_to_normal_unacknowledged : State::normal, "returned");
  }
  JournalPage& seen(double at_s, State from = State::unacknowledged) {
    return line(at_s, "acknowledge", from, from == State::unacknowledged ? State::acknowledged : State::normal,
                "acknowledge", "R. Okafor");
  }
  /// Comes, goes after a second and is acknowledged after two.
  JournalPage& brief(double at_s) {
    return comes(at_s).goes(at_s + 1).seen(at_s + 2, State::returned_to_normal_unacknowledged);
  }

  std::vector<AlarmRecord> records;

private:
  std::string room_ = "pear-store-2", alarm_ = "high-co2";
  alarms::Priority priority_ = alarms::Priority::high;
};

inline alarm_report::Stretch stretch(double from_s, double to_s) { return {after(from_s), after(to_s)}; }

/// The report over a time that was watched throughout.
inline alarm_report::Performance watched_all(const std::vector<AlarmRecord>& records, double from_s, double to_s) {
  const auto period = stretch(from_s, to_s);
  const std::vector watched{period};
  return alarm_report::performance(records, period, watched);
}

inline constexpr double minute_s = 60, hour_s = 3600, day_s = 86400;

} // namespace oxherd::daemon::alarm_report_test
