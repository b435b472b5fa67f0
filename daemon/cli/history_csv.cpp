#include "daemon/cli/history_csv.hpp"

#include <span>

#include <nlohmann/json.hpp>

#include "daemon/cli/answer.hpp"
#include "daemon/csv_text.hpp"
#include "daemon/json_text.hpp"

namespace oxherd::daemon::cli {
namespace {

constexpr std::string_view reading_columns[] = {"at",           "room",         "sensor",           "quality",
                                                "status",       "dry_fraction", "u_dry_fraction",   "wet_fraction",
                                                "po2_kpa",      "raw_mv",       "temperature_c",    "humidity_percent",
                                                "pressure_kpa", "co2_fraction", "over_pressure_pa", "derivation",
                                                "reasons"};
constexpr std::string_view alarm_columns[] = {"at",   "sequence", "room",   "alarm",  "event",    "from",
                                              "to",   "cause",    "author", "value",  "expanded", "limit",
                                              "unit", "priority", "text",   "comment"};

std::string csv_value(const nlohmann::json& record, std::string_view column) {
  if (const auto number = number_of(record, column)) return json_number(*number);
  return csv_field(text_of(record, column));
}

} // namespace

std::string history_csv(const nlohmann::json& result, bool alarms) {
  const std::span<const std::string_view> columns =
      alarms ? std::span<const std::string_view>{alarm_columns} : std::span<const std::string_view>{reading_columns};
  std::string out;
  const auto end_of = [&](std::size_t i) { return i + 1 < columns.size() ? "," : "\r\n"; };
  for (std::size_t i = 0; i < columns.size(); ++i) out += std::string{columns[i]} + end_of(i);
  for (const auto& record : list_of(result, alarms ? "alarms" : "readings"))
    for (std::size_t i = 0; i < columns.size(); ++i) out += csv_value(record, columns[i]) + end_of(i);
  return out;
}

} // namespace oxherd::daemon::cli
