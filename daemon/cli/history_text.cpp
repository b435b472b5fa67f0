#include "daemon/cli/history_text.hpp"

#include <algorithm>

#include <fmt/core.h>
#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/cli/table.hpp"
#include "daemon/cli/text.hpp"

namespace oxherd::daemon::cli {
namespace {

using nlohmann::json;

/// A number with fixed decimals, or a dash.
std::string cell_of(const json& object, std::string_view key, int decimals, double scale = 1.0) {
  const auto value = number_of(object, key);
  return value ? fmt::format("{:.{}f}", *value * scale, decimals) : "-";
}

std::string dash_if_empty(std::string text) { return text.empty() ? "-" : text; }

std::string spaced(std::string name) {
  std::ranges::replace(name, '_', ' ');
  return dash_if_empty(std::move(name));
}

/// What became of a recorded value, in a word: colour would not survive a printout.
std::string mark_of(const json& reading, bool as_recorded) {
  const auto derivation = number_of(reading, "derivation");
  if (!derivation) return "-";
  return fmt::format("{} {:.0f}", as_recorded ? "superseded by" : "re-derived", *derivation);
}

void add_reading(Table& table, const json& r, std::optional<std::string> mark) {
  std::vector<std::string> cells{local_time_of(r, "at"),
                                 text_of(r, "room") + '/' + text_of(r, "sensor"),
                                 cell_of(r, "dry_fraction", 2, 100.0),
                                 cell_of(r, "u_dry_fraction", 2, 200.0),
                                 cell_of(r, "wet_fraction", 2, 100.0),
                                 cell_of(r, "po2_kpa", 3),
                                 cell_of(r, "raw_mv", 3),
                                 cell_of(r, "temperature_c", 1),
                                 cell_of(r, "humidity_percent", 0),
                                 cell_of(r, "pressure_kpa", 2),
                                 cell_of(r, "co2_fraction", 0, 1e6),
                                 cell_of(r, "over_pressure_pa", 0),
                                 text_of(r, "quality")};
  if (mark) cells.push_back(std::move(*mark));
  cells.push_back(text_of(r, "reasons"));
  table.add(std::move(cells));
}

/// A line about a room, an output or a user is about no alarm, and knows no states. No alarm has a slash in its name.
bool is_of_an_alarm(const json& a) {
  const auto alarm = text_of(a, "alarm");
  return !alarm.empty() && alarm.find('/') == std::string::npos;
}

std::string named_in_journal(const json& a) {
  const auto alarm = text_of(a, "alarm");
  const auto room = text_of(a, "room");
  return room + (room.empty() || alarm.empty() ? "" : "/") + alarm;
}

void add_record(Table& table, const json& a) {
  const auto unit = text_of(a, "unit");
  const auto limit = number_of(a, "limit");
  const bool as_ppm = limit && *limit < 0.01;
  table.add({local_time_of(a, "at"), cell_of(a, "sequence", 0), named_in_journal(a), spaced(text_of(a, "event")),
             spaced(is_of_an_alarm(a) ? text_of(a, "from") : ""), spaced(is_of_an_alarm(a) ? text_of(a, "to") : ""),
             spaced(text_of(a, "cause")), dash_if_empty(text_of(a, "author")),
             quantity_text(number_of(a, "value"), unit, as_ppm), quantity_text(limit, unit, as_ppm),
             text_of(a, !is_of_an_alarm(a) && text_of(a, "comment").empty() ? "text" : "comment")});
}

std::ptrdiff_t derived_among(const json& lines) {
  return std::ranges::count_if(lines, [](const json& r) { return number_of(r, "derivation").has_value(); });
}

std::string readings_text(const json& lines, bool as_recorded) {
  const bool derived = derived_among(lines) > 0;
  Table table;
  std::vector<std::string> head{"time", "sensor", "O2 dry %", "± k=2",   "O2 wet %", "pO2 kPa", "mV",
                                "°C",   "%RH",    "kPa",      "CO2 ppm", "over Pa",  "quality"};
  if (derived) head.emplace_back("value");
  head.emplace_back("reasons");
  table.add(std::move(head));
  for (const auto& line : lines)
    add_reading(table, line, derived ? std::optional{mark_of(line, as_recorded)} : std::nullopt);
  return table.text();
}

/// What to know about values that were derived later; empty when there are none.
std::string derived_note(const json& lines, bool as_recorded) {
  const auto derived = derived_among(lines);
  if (derived == 0) return "";
  return fmt::format("{} {}\n", derived,
                     as_recorded
                         ? "superseded since: without --as-recorded the values that stand are shown"
                         : "re-derived: `oxherd explain` shows who, when and why, --as-recorded the first values");
}

std::string alarms_text(const json& lines) {
  Table table;
  table.add({"time", "number", "alarm", "event", "from", "to", "cause", "by", "value", "limit", "comment"});
  for (const auto& line : lines) add_record(table, line);
  return table.text();
}

} // namespace

std::string history_text(const json& result, bool alarms, bool as_recorded) {
  const json& lines = list_of(result, alarms ? "alarms" : "readings");
  if (lines.empty()) return "Nothing was recorded in that time.\n";
  std::string out = alarms ? alarms_text(lines) : readings_text(lines, as_recorded);
  out += counted(lines.size(), alarms ? "record" : "reading");
  if (is_true(result, "truncated")) out += ", the newest; there are more: raise --limit or narrow the time";
  return out + '\n' + (alarms ? "" : derived_note(lines, as_recorded));
}

} // namespace oxherd::daemon::cli
