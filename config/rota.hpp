#pragma once

#include <array>
#include <chrono>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "config/zone_rules.hpp"

namespace oxherd::config {

/// Minutes that a clock on the wall shows since its 1970-01-01T00:00.
using LocalMinutes = std::int64_t;
inline constexpr int minutes_of_day = 24 * 60;

/// A time zone by its IANA name; without rules it is UTC.
struct TimeZone {
  std::string name = "UTC";
  std::shared_ptr<const ZoneRules> rules;
  friend bool operator==(const TimeZone& a, const TimeZone& b) { return a.name == b.name; }
};
/// Local time less UTC, in seconds.
[[nodiscard]] std::int64_t offset_s(const TimeZone& zone, std::chrono::sys_time<std::chrono::milliseconds> at);
[[nodiscard]] LocalMinutes local_minutes(const TimeZone& zone, std::chrono::sys_time<std::chrono::milliseconds> at);

/// Hours that come back every week.
struct WeeklyHours {
  std::array<bool, 7> days{true, true, true, true, true, true, true}; ///< on which they begin, Monday first
  int from = 0, to = minutes_of_day; ///< minutes of the day; `to` at or before `from` is on the next day
  friend bool operator==(const WeeklyHours&, const WeeklyHours&) = default;
};
[[nodiscard]] bool is_within(const WeeklyHours& hours, LocalMinutes local);

/// Who is on duty in which hours of the week.
struct Shift {
  std::string contact;
  WeeklyHours hours;
  friend bool operator==(const Shift&, const Shift&) = default;
};
/// Who is on duty at a date, from `from` on, no longer at `to`; takes the place of the week's shifts.
struct DatedShift {
  std::string contact;
  LocalMinutes from = 0, to = 0;
  friend bool operator==(const DatedShift&, const DatedShift&) = default;
};

/// [rota.NAME]: whose turn it is.
struct Rota {
  std::string name;
  TimeZone zone;
  std::vector<Shift> weekly;
  std::vector<DatedShift> dated;
  std::optional<std::string> otherwise; ///< when it is nobody's turn
  friend bool operator==(const Rota&, const Rota&) = default;
};

/// The contacts whose turn it is then; empty in a gap.
[[nodiscard]] std::vector<std::string> on_duty(const Rota& rota, std::chrono::sys_time<std::chrono::milliseconds> at);
/// Every contact that the rota names, each once.
[[nodiscard]] std::vector<std::string> everyone_in(const Rota& rota);

/// The times at which it is nobody's turn, as a person reads them: "Saturday 18:00 to Monday 08:00". A rota of dates
/// alone also ends: "from 2027-01-04 00:00 on". At most `most` are named.
[[nodiscard]] std::vector<std::string> gaps_in(const Rota& rota, std::size_t most = 3);

} // namespace oxherd::config
