#pragma once

#include <optional>
#include <string>
#include <string_view>

#include "config/rota.hpp"
#include "config/table_reader.hpp"

// Hours, days and time zones as they stand in the file.
namespace oxherd::config {

[[nodiscard]] std::optional<int> digits(std::string_view text);
/// "08:30" as minutes of the day; "24:00" is its end.
[[nodiscard]] std::optional<int> time_of_day(std::string_view text);
[[nodiscard]] std::optional<int> read_time_of_day(TableReader& in, std::string_view key);
/// The key `time_zone`: an IANA name.
[[nodiscard]] TimeZone read_time_zone(TableReader& in, const TimeZone& otherwise);
/// The keys `days`, `from` and `to`.
[[nodiscard]] WeeklyHours read_hours(TableReader& in, WeeklyHours hours);

/// "06:00" of minute 360.
[[nodiscard]] std::string clock_text(int minute_of_day);
/// "20:00 to 06:00", "20:00 to 06:00, Monday to Friday".
[[nodiscard]] std::string hours_text(const WeeklyHours& hours);

} // namespace oxherd::config
