#include "daemon/cli/history_result.hpp"

#include "daemon/json_text.hpp"
#include "daemon/payloads.hpp"
#include "daemon/time_text.hpp"

namespace oxherd::daemon::cli {
namespace {

std::optional<double> scaled(std::optional<double> si, double scale, double offset = 0.0) {
  return si ? std::optional{*si * scale + offset} : std::nullopt;
}

std::string reading_json(const StoredReading& reading) {
  return JsonObject{}
      .text("at", rfc3339(reading.at))
      .text("room", reading.room)
      .text("sensor", reading.sensor)
      .text("quality", reading.quality)
      .text("status", reading.status)
      .text("reasons", reading.reasons)
      .number("dry_fraction", reading.oxygen)
      .number("u_dry_fraction", reading.u_oxygen)
      .number("wet_fraction", reading.oxygen_wet)
      .number("po2_kpa", scaled(reading.po2_Pa, 1e-3))
      .number("raw_mv", scaled(reading.raw_V, 1e3))
      .number("temperature_c", scaled(reading.temperature_K, 1.0, -273.15))
      .number("humidity_percent", scaled(reading.humidity, 100.0))
      .number("pressure_kpa", scaled(reading.pressure_Pa, 1e-3))
      .number("co2_fraction", reading.carbon_dioxide)
      .str();
}

} // namespace

std::string history_result(const ReadingHistory& history) {
  std::vector<std::string> readings;
  for (const auto& reading : history.readings) readings.push_back(reading_json(reading));
  return JsonObject{}.flag("truncated", history.truncated).json("readings", json_array(readings)).str();
}

std::string history_result(const AlarmHistory& history) {
  std::vector<std::string> records;
  for (const auto& record : history.records) records.push_back(alarm_record_payload(record));
  return JsonObject{}.flag("truncated", history.truncated).json("alarms", json_array(records)).str();
}

} // namespace oxherd::daemon::cli
